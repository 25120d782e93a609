// The scale of the photo: how it is known, and three ways to settle it.
import { byId } from "./dom.js";
import { openSheet, tellIn } from "./sheets.js";
import { readNumber } from "./words.js";

const NO_LENGTH = { what: "That is not a length", do: "type it in millimetres, such as 85 or 85,6" };

export class ScaleSheet {
  #api;
  #does;
  #sheet = byId("scale-sheet");
  #lengthSheet = byId("length-sheet");
  #ends = null; // {points, pointing_px}

  /** @param does  {take(state), say(words), pointOut(), putDown()} */
  constructor(api, does) {
    this.#api = api;
    this.#does = does;
    byId("scale-points").addEventListener("click", () => {
      this.#sheet.close();
      does.pointOut();
    });
    byId("scale-card").addEventListener("click", () => this.#settle({ find_card: true }));
    byId("scale-none").addEventListener("click", () => this.#settle({ none: true }));
    byId("length-form").addEventListener("submit", (event) => {
      event.preventDefault();
      this.#saveLength();
    });
    this.#sheet.addEventListener("close", () => tellIn(this.#sheet, null));
  }

  draw({ scale }) {
    byId("scale-words").textContent = scale.words;
    byId("scale-chip").classList.toggle("is-missing", scale.source === "none");
    byId("scale-now").textContent = scale.words;
    byId("scale-none").hidden = scale.source === "none";
  }

  /** Two ends were pointed out, each so many pixels of the photo off at most: ask for the length. */
  async askLength(points, offPx) {
    this.#ends = { points, pointing_px: offPx };
    tellIn(this.#lengthSheet, null);
    const closing = openSheet(this.#lengthSheet);
    byId("length").select();
    await closing;
    this.#does.putDown();
  }

  async #saveLength() {
    const typed = byId("length").value;
    if (!readNumber(typed)) return tellIn(this.#lengthSheet, NO_LENGTH);
    const isSaved = await this.#send(this.#lengthSheet, { ...this.#ends, length_mm: typed.trim() });
    if (isSaved) this.#lengthSheet.close("saved");
    return undefined;
  }

  async #settle(wish) {
    if (await this.#send(this.#sheet, wish)) this.#sheet.close("saved");
  }

  async #send(sheet, wish) {
    const buttons = sheet.querySelectorAll("button:not([data-close])");
    tellIn(sheet, null);
    for (const button of buttons) button.disabled = true;
    try {
      const { state } = await this.#api.setScale(wish);
      this.#does.take(state);
      const { source, words } = state.scale;
      this.#does.say(source === "none" ? `${words}.` : `Scale: ${words}.`);
      return true;
    } catch (fault) {
      tellIn(sheet, fault);
      return false;
    } finally {
      for (const button of buttons) button.disabled = false;
    }
  }
}
