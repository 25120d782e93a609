// Draw a line: along it with a finger, or bend by bend with taps; the last point again ends it.
import { DrawingTool } from "./drawing-tool.js";
import { pathLength, simplify } from "./geometry.js";

const WOBBLE_PX = 2.5; // of a finger, on the screen
const SHORTEST_PX = 6; // on the screen; less is a slip of the finger

export class LineTool extends DrawingTool {
  isLoose = true;

  follow(path, isDone = false) {
    return isDone ? simplify(path, this.onPhoto(WOBBLE_PX)) : path;
  }

  endsAt(point, reach) {
    return this.points.length > 1 && this.gap(this.points.at(-1), point) < reach;
  }

  isSlip(points) {
    return pathLength(points) < this.onPhoto(SHORTEST_PX);
  }
}
