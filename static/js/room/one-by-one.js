// One after another out of many: a slider, which is one stop of the Tab key for hundreds of them and
// has arrow keys, Home and End of its own, and a button at either end for fingers.
import { make } from "./dom.js";

export class OneByOne {
  #slider;
  #place = make("span", { class: "figures", "aria-hidden": "true" });
  #count;
  #choose;
  element;

  /** @param does  {label, id, count, choose(at)}: `at` is 1 for the first, 0 for none */
  constructor({ label, id, count, choose }) {
    this.#count = count;
    this.#choose = choose;
    this.#slider = make("input", { type: "range", id, min: 0, max: count, value: 0, "aria-label": label,
      oninput: () => this.#go(Number(this.#slider.value)) });
    // By keys the slider does what these do.
    const button = (by, name, sign) => make("button", { type: "button", class: "square", tabindex: -1,
      "aria-label": name, onclick: () => this.step(by) }, sign);
    this.element = make("div", { class: "one-by-one" },
      make("p", { class: "one-by-one__name" }, make("span", { "aria-hidden": "true" }, label), this.#place),
      button(-1, "The one before", "◂"), this.#slider, button(1, "The next one", "▸"));
    this.at = 0;
  }

  get at() {
    return Number(this.#slider.value);
  }

  /** Stand at one of them without choosing it. */
  set at(at) {
    this.#slider.value = at;
    this.#slider.setAttribute("aria-valuetext", `${at || "none yet"} of ${this.#count}`);
    this.#place.textContent = `${at || "–"} of ${this.#count}`;
  }

  /** To the next one (1) or the one before (-1). */
  step(by) {
    this.#go(Math.min(Math.max(this.at + by, 1), this.#count));
  }

  #go(at) {
    this.at = at;
    this.#choose(at);
  }
}
