// Draw an outline: round it with a finger, or corner by corner with taps; the first or the last
// corner again closes it.
import { crossesItself, withoutTails } from "./crossing.js";
import { DrawingTool } from "./drawing-tool.js";
import { outlineArea, simplifyOutline } from "./geometry.js";

const WOBBLE_PX = 2.5; // of a finger, on the screen
const SMALLEST_PX2 = 30; // on the screen; less is a slip of the finger

export class OutlineTool extends DrawingTool {
  shape = "outline";
  least = 3;

  follow(path, isDone = false) {
    return isDone ? withoutTails(simplifyOutline(path, this.onPhoto(WOBBLE_PX))) : path;
  }

  endsAt(point, reach) {
    if (this.points.length < this.least) return false;
    return [this.points[0], this.points.at(-1)].some((end) => this.gap(end, point) < reach);
  }

  isSlip(points) {
    // The two halves of an hourglass take each other away in the sum; that it crosses is said instead.
    return outlineArea(points) < SMALLEST_PX2 * this.onPhoto(1) ** 2 && !crossesItself(points);
  }
}
