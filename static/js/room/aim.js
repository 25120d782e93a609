// The cross-hair: places corners without drawing by hand. Arrow keys move it; with gloves on,
// move the picture under it instead and press "Place here".

const ARROWS = { ArrowLeft: [-1, 0], ArrowRight: [1, 0], ArrowUp: [0, -1], ArrowDown: [0, 1] };
const STEP_PX = 10; // on the screen; with Shift one pixel
const EDGE_PX = 32; // nearer to the edge than this the picture moves instead

export class Aim extends EventTarget {
  #view;
  #element;
  #at = null; // [x, y] on the screen; null means the middle

  constructor(view, element) {
    super();
    this.#view = view;
    this.#element = element;
    view.addEventListener("change", () => this.#place());
  }

  get isShown() {
    return !this.#element.hidden;
  }

  /** The point of the photo under it. */
  get point() {
    return this.#view.toPhoto(this.#position);
  }

  show(isShown) {
    if (isShown === this.isShown) return;
    this.#element.hidden = !isShown;
    this.#at = null;
    this.#place();
    this.dispatchEvent(new Event("change"));
  }

  /** Whether the key moved it. */
  key({ key, shiftKey }) {
    const direction = ARROWS[key];
    if (!direction) return false;
    if (!this.isShown) this.show(true);
    const [width, height] = this.#view.size;
    const [dx, dy] = direction.map((value) => value * (shiftKey ? 1 : STEP_PX));
    const [x, y] = this.#position;
    const isOff = x + dx < EDGE_PX || x + dx > width - EDGE_PX || y + dy < EDGE_PX || y + dy > height - EDGE_PX;
    if (isOff) this.#view.pan([-dx, -dy]);
    else this.#at = [x + dx, y + dy];
    this.#place();
    this.dispatchEvent(new Event("change"));
    return true;
  }

  get #position() {
    const [width, height] = this.#view.size;
    return this.#at ?? [width / 2, height / 2];
  }

  #place() {
    if (!this.isShown) return;
    const [x, y] = this.#position;
    this.#element.style.transform = `translate(${x}px, ${y}px)`;
  }
}
