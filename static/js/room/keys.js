// The keys of the room. Single letters can be switched off, and never act while someone types.

const OFF = "defectlog.keys-off";

/** What the sheet "Keys" lists; the letters are read from here as well. */
export const LETTERS = {
  s: "spot", l: "line", o: "outline", b: "box", r: "region", v: "look",
  m: "measure", k: "kind", h: "counted", t: "turned", "[": "previous", "]": "next", ",": "larger", ".": "smaller", "?": "keys",
};

/** Those that change nothing, for a device that was let in to look. */
const LOOKING = new Set(["counted", "turned", "previous", "next", "larger", "smaller", "keys"]);

const isTyping = (element) => element.closest?.("input:not([type=range], [type=radio], [type=checkbox]), textarea, select");

export class Keys {
  #does;
  #picture;
  #looksOnly;

  /**
   * @param {HTMLElement} picture  holds the keyboard focus while one draws
   * @param does  {letter(name), undo(), redo(), escape(), remove(), picture(event) → handled}
   */
  constructor(picture, does, { looksOnly = false } = {}) {
    this.#does = does;
    this.#picture = picture;
    this.#looksOnly = looksOnly;
    document.addEventListener("keydown", (event) => this.#key(event));
  }

  get areLettersOn() {
    return localStorageOrNull()?.getItem(OFF) !== "yes";
  }

  set areLettersOn(isOn) {
    if (isOn) localStorageOrNull()?.removeItem(OFF);
    else localStorageOrNull()?.setItem(OFF, "yes");
  }

  #key(event) {
    if (event.defaultPrevented || event.altKey || document.querySelector("dialog[open]")) return;
    if (isTyping(event.target)) return;
    if (this.#act(event)) event.preventDefault();
  }

  #act(event) {
    const key = event.key.length === 1 ? event.key.toLowerCase() : event.key;
    if (event.ctrlKey || event.metaKey) return !this.#looksOnly && this.#undoKey(key, event.shiftKey);
    if (key === "Escape") return this.#does.escape();
    if (key === "Delete") return !this.#looksOnly && this.#does.remove();
    if (event.target === this.#picture && this.#does.picture(event)) return true;
    const name = this.areLettersOn && LETTERS[key];
    if (!name || (this.#looksOnly && !LOOKING.has(name))) return false;
    this.#does.letter(name);
    return true;
  }

  #undoKey(key, isShifted) {
    if (key === "z") {
      if (isShifted) this.#does.redo();
      else this.#does.undo();
      return true;
    }
    if (key === "y") this.#does.redo();
    return key === "y";
  }
}

/** Some browsers forbid it altogether; then nothing outlives the page, and all else works. */
export function localStorageOrNull() {
  try {
    return window.localStorage;
  } catch {
    return null;
  }
}
