// Draw a box: from corner to corner with a finger, or tap two opposite corners.
import { DrawingTool } from "./drawing-tool.js";
import { boundsOf } from "./geometry.js";

const THINNEST_PX = 4; // on the screen; less is a slip of the finger

export class BoxTool extends DrawingTool {
  shape = "box";

  tap(point, reach) {
    super.tap(point, reach);
    this.finish();
  }

  isSlip(points) {
    const { width, height } = boundsOf(points);
    return Math.min(width, height) < this.onPhoto(THINNEST_PX);
  }
}
