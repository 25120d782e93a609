// What all drawing tools share. A tool turns fingers into pixels of the photo and tells what was
// drawn; it does not save, ask or style, and knows no DOM.

const FINGER_PX = 22; // on the screen, whatever the zoom

export class DrawingTool {
  shape = "line";
  least = 2; // points of a finished shape
  drawsByDrag = true; // otherwise a drag moves the picture
  isLoose = false; // whether the shape stays open while it is being drawn
  isTracing = false; // a finger is on its way
  points = [];
  #path = [];
  #kept = [];
  #gap;
  #unsure;
  #changed;
  #drawn;

  /**
   * @param {object} hands
   * @param hands.gap      (a, b) => distance of two points of the photo, in pixels of the screen
   * @param hands.unsure   () => how far off what is pointed at just now may be, in pixels of the screen
   * @param hands.changed  called whenever `points` changed
   * @param hands.drawn    called with {shape, points} once a shape is finished
   */
  constructor({ gap, unsure = () => 0, changed, drawn }) {
    this.#gap = gap;
    this.#unsure = unsure;
    this.#changed = changed;
    this.#drawn = drawn;
  }

  press(point) {
    this.#kept = this.points;
    this.#path = [point];
  }

  /** A drag draws; but after tapped corners it carries the next corner to where the finger lifts. */
  drag(point) {
    if (this.gap(this.#path.at(-1), point) < 2) return;
    this.#path.push(point);
    this.isTracing = true;
    this.points = this.#kept.length ? [...this.#kept, point] : this.follow(this.#path);
    this.#changed();
  }

  release() {
    const path = this.#path;
    this.isTracing = false;
    this.points = this.#kept;
    if (this.#kept.length) return this.tap(path.at(-1));
    this.points = this.follow(path, true);
    if (this.points.length < this.least) return this.cancel();
    return this.finish();
  }

  /** `reach` is smaller for the cross-hair, which hits what it aims at. */
  tap(point, reach = FINGER_PX) {
    const last = this.points.at(-1);
    if (this.endsAt(point, reach)) this.finish();
    else if (!last || this.gap(last, point) > 2) this.points = [...this.points, point];
    this.#changed();
  }

  finish() {
    if (this.points.length < this.least) return;
    if (this.isSlip(this.points)) return void this.cancel();
    this.#drawn({ shape: this.shape, points: this.points, ...this.more });
    this.#changed();
  }

  /** Go on with corners that were set before. */
  resume(points) {
    this.points = points;
    this.#changed();
  }

  /** Take the last corner back. */
  back() {
    this.points = this.points.slice(0, -1);
    this.#changed();
  }

  /** Drop everything, and start afresh. */
  cancel() {
    this.points = [];
    this.#kept = [];
    this.isTracing = false;
    this.#changed();
  }

  gap(a, b) {
    return this.#gap(a, b);
  }

  /** How far off what is pointed at just now may be, in pixels of the photo. */
  get unsurePx() {
    return this.onPhoto(this.#unsure());
  }

  /** What else is to be told of a finished shape. */
  get more() {
    return {};
  }

  /** Pixels of the photo for so many of the screen. */
  onPhoto(screenPx) {
    return screenPx / this.#gap([0, 0], [1, 0]);
  }

  /** What a finger's path means while it moves, and once it is done. */
  follow(path) {
    return [path[0], path.at(-1)];
  }

  /** Whether a tap there ends the shape. */
  endsAt() {
    return false;
  }

  /** Whether what was drawn is too small to be meant. */
  isSlip() {
    return false;
  }
}
