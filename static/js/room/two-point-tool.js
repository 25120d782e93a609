// Point at the two ends of something of known length: drag along it, or tap one end and the other.
import { DrawingTool } from "./drawing-tool.js";

const SHORTEST_PX = 20; // on the screen; a shorter base gives no scale worth having

export class TwoPointTool extends DrawingTool {
  isLoose = true;

  tap(point, reach) {
    super.tap(point, reach);
    this.finish();
  }

  isSlip([a, b]) {
    return this.gap(a, b) < SHORTEST_PX;
  }
}
