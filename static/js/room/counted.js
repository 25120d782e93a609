// What was counted, as a picture over the photo. From far away a pinhole is less than a pixel of the
// screen and would be lost: then a picture of fewer pixels is shown, on which none of them vanishes.
import { makeSvg } from "./dom.js";

const CELL_PX = 2; // of the screen: how large a pinhole is drawn at most when seen from far away
const LEAST_ACROSS = 250;
const STEP = Math.SQRT2;

/**
 * How many pixels across the picture shall be, or null for as many as the server has.
 *
 * @param seen   width of the photo on the screen, in pixels of the screen
 * @param whole  width of the photo in its own
 */
export function acrossFor(seen, whole) {
  let across = LEAST_ACROSS;
  while (across < seen / CELL_PX) across *= STEP;
  return across < whole / CELL_PX ? Math.round(across) : null;
}

export class Counted {
  #photo;
  #url = null;
  #across = null;
  element = null;

  /** @param photo  width_px and height_px of the upright original */
  constructor(photo) {
    this.#photo = photo;
  }

  /** The picture of what was counted: {url, opacity}. */
  draw({ url, opacity }) {
    const { width_px: width, height_px: height } = this.#photo;
    if (url !== this.#url || !this.element) {
      this.#url = url;
      this.#across = undefined;
      this.element = makeSvg("image", { class: "counted", x: 0, y: 0, width, height, preserveAspectRatio: "none" });
    }
    this.element.setAttribute("opacity", opacity);
    return this.element;
  }

  /** The picture came closer or went away; `scale` is pixels of the screen for one of the photo. */
  seenAt(scale) {
    const { element } = this;
    const { width_px: width } = this.#photo;
    const across = acrossFor(scale * width, width);
    if (!element || across === this.#across) return;
    this.#across = across;
    const url = across === null ? this.#url : `${this.#url}?across=${across}`;
    if (!element.hasAttribute("href")) {
      element.setAttribute("href", url);
      return;
    }
    // The one that is shown stays until the other one is there.
    const coming = new Image();
    coming.addEventListener("load", () => {
      if (this.element === element && this.#across === across) element.setAttribute("href", url);
    });
    coming.src = url;
  }
}
