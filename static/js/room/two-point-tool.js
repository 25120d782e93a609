// Point at the two ends of something of known length: drag along it, or tap one end and the other.
import { DrawingTool } from "./drawing-tool.js";

const SHORTEST_PX = 20; // on the screen; a shorter base gives no scale worth having

export class TwoPointTool extends DrawingTool {
  isLoose = true;
  #offPx = 0; // how far off the less sure of the two may be, in pixels of the photo

  tap(point, reach) {
    this.#note();
    super.tap(point, reach);
    this.finish();
  }

  release() {
    this.#note();
    super.release();
  }

  cancel() {
    this.#offPx = 0;
    super.cancel();
  }

  get more() {
    return { pointing_px: this.#offPx };
  }

  isSlip([a, b]) {
    return this.gap(a, b) < SHORTEST_PX;
  }

  /** From far away a finger covers more of the photo. */
  #note() {
    this.#offPx = Math.max(this.#offPx, this.unsurePx);
  }
}
