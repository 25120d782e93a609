// Mark one spot: tap it. A drag still moves the picture.
import { DrawingTool } from "./drawing-tool.js";

export class SpotTool extends DrawingTool {
  shape = "point";
  least = 1;
  drawsByDrag = false;

  tap(point) {
    this.points = [point];
    this.finish();
  }
}
