// The counted area at a threshold, over the photo: one look-up a pixel, no arithmetic.
import { make } from "./dom.js";

const COUNTED = [226, 74, 140, 190]; // as the picture of what was counted has it

export class LiveCanvas {
  #view;
  #canvas = make("canvas", { class: "live-canvas", "aria-hidden": "true" });
  #context = this.#canvas.getContext("2d", { willReadFrequently: true }); // keeps it in memory
  #table = new Uint32Array(256);
  #made = null;
  #image = null;
  #colours = null;

  constructor(view) {
    this.#view = view;
    this.#canvas.hidden = true;
    view.element.querySelector(".overlay").before(this.#canvas);
    view.addEventListener("change", () => this.place());
  }

  /** @param made  from `prepared`, or null to show nothing */
  take(made) {
    this.#made = made;
    this.#canvas.hidden = !made;
    this.#image = null;
    if (!made) return;
    const { width_px: width, height_px: height } = made.about;
    Object.assign(this.#canvas, { width, height });
    this.#image = this.#context.createImageData(width, height);
    this.#colours = new Uint32Array(this.#image.data.buffer);
    this.place();
  }

  draw(step) {
    if (!this.#made) return;
    const [red, green, blue, opacity] = COUNTED;
    this.#table.fill(0);
    this.#table.fill(((opacity << 24) | (blue << 16) | (green << 8) | red) >>> 0, step);
    const { from } = this.#made;
    const [table, colours] = [this.#table, this.#colours];
    for (let i = 0; i < from.length; i += 1) colours[i] = table[from[i]];
    this.#context.putImageData(this.#image, 0, 0);
  }

  /** How long one drawing takes here, once the browser has warmed up to it. */
  drawingMs() {
    this.draw(255);
    const began = performance.now();
    this.draw(255);
    return performance.now() - began;
  }

  /** Follow the picture. */
  place() {
    if (!this.#made || !this.#view.isReady) return;
    const [left, top, width, height] = this.#made.about.box;
    const [x, y] = this.#view.toScreen([left, top]);
    const [right, bottom] = this.#view.toScreen([left + width, top + height]);
    const across = (right - x) / this.#canvas.width;
    const down = (bottom - y) / this.#canvas.height;
    this.#canvas.style.transform = `matrix(${across}, 0, 0, ${down}, ${x}, ${y})`;
  }
}
