// Areas on the surface that are not to be inspected: writing, glare, something lying there. Drawn
// by a person, remembered here until they are taken back.
import { byId, make } from "./dom.js";
import { areaWords, plural } from "./words.js";

export class LeaveOut extends EventTarget {
  #key;
  #storage;
  #list = byId("left-out-list");
  outlines;

  constructor(photoId, storage, latest) {
    super();
    this.#key = `defectlog.left-out.${photoId}`;
    this.#storage = storage;
    this.outlines = latest ?? [];
    try {
      const kept = JSON.parse(storage?.getItem(this.#key) ?? "null");
      if (Array.isArray(kept)) this.outlines = kept;
    } catch {
      // What cannot be read was never drawn.
    }
  }

  add(points) {
    this.set([...this.outlines, points]);
  }

  remove(index) {
    this.set(this.outlines.filter((_, at) => at !== index));
  }

  set(outlines) {
    this.outlines = outlines.map((points) => (
      points.map((point) => point.map((value) => Math.round(value * 10) / 10))));
    try {
      this.#storage?.setItem(this.#key, JSON.stringify(this.outlines));
    } catch {
      // Storage is full: they last as long as the page.
    }
    this.dispatchEvent(new Event("change"));
  }

  /** Whether these are the very outlines given. */
  is(outlines) {
    return JSON.stringify(outlines ?? []) === JSON.stringify(this.outlines);
  }

  draw(scale) {
    this.#list.hidden = this.outlines.length === 0;
    this.#list.replaceChildren(...this.outlines.map((points, index) => make("li", {},
      make("span", { class: "figures" }, `Left out ${index + 1}: ${areaWords(points, scale)}`),
      make("button", { type: "button", class: "quiet", "aria-label": `Take left-out area ${index + 1} back`,
        onclick: () => this.#takeBack(index) }, "Take it back"))));
    byId("left-out-words").textContent = this.outlines.length
      ? `${plural(this.outlines.length, "area")} left out.` : "";
  }

  /** The button pressed is gone afterwards: the focus goes on to the next, or to the tool. */
  #takeBack(index) {
    this.remove(index);
    const buttons = this.#list.querySelectorAll("button");
    (buttons[Math.min(index, buttons.length - 1)] ?? byId("leave-out-tool")).focus();
  }
}
