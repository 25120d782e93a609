// What the thumb covers: a magnified circle beside it, drawn from the picture that is on the screen.

const SIDE_PX = 128; // of the circle, on the screen
const CLOSER = 2.5;
const AWAY_PX = 112; // from the finger to the middle of the circle
const EDGE = "rgb(0 0 0 / 0.75)";
const LINE = "#fff";

export class Loupe {
  #view;
  #canvas;
  #asked = null;

  /** @param {HTMLCanvasElement} canvas  in the stage, hidden until a finger is down */
  constructor(view, canvas) {
    this.#view = view;
    this.#canvas = canvas;
  }

  /**
   * Show what lies round a point of the screen.
   *
   * @param at     [x, y] in the stage
   * @param paths  [{points, closed}] of the photo, drawn over it
   */
  show(at, paths = []) {
    cancelAnimationFrame(this.#asked);
    this.#asked = requestAnimationFrame(() => this.#draw(at, paths));
  }

  hide() {
    cancelAnimationFrame(this.#asked);
    this.#canvas.hidden = true;
  }

  #draw([x, y], paths) {
    const dense = window.devicePixelRatio;
    const canvas = this.#canvas;
    const side = Math.round(SIDE_PX * dense);
    if (canvas.width !== side) [canvas.width, canvas.height] = [side, side];
    const context = canvas.getContext("2d");
    context.setTransform(1, 0, 0, 1, 0, 0);
    context.clearRect(0, 0, side, side);
    const [pictured, width] = [this.#view.drawn, this.#view.size[0]];
    const perPx = pictured.width / width;
    const seen = SIDE_PX / CLOSER;
    context.drawImage(pictured, (x - seen / 2) * perPx, (y - seen / 2) * perPx, seen * perPx, seen * perPx, 0, 0, side, side);
    context.setTransform(dense, 0, 0, dense, SIDE_PX / 2 * dense, SIDE_PX / 2 * dense);
    for (const path of paths) this.#trace(context, path, [x, y]);
    this.#cross(context);
    this.#place([x, y]);
    canvas.hidden = false;
  }

  #trace(context, { points, closed }, [x, y]) {
    context.beginPath();
    for (const point of points) {
      const [px, py] = this.#view.toScreen(point);
      context.lineTo((px - x) * CLOSER, (py - y) * CLOSER);
    }
    if (closed) context.closePath();
    this.#stroke(context);
  }

  /** Open in the middle, so that it covers nothing of what it points at. */
  #cross(context) {
    context.beginPath();
    for (const [dx, dy] of [[1, 0], [-1, 0], [0, 1], [0, -1]]) {
      context.moveTo(dx * 5, dy * 5);
      context.lineTo(dx * 16, dy * 16);
    }
    this.#stroke(context);
  }

  #stroke(context) {
    for (const [style, width] of [[EDGE, 4], [LINE, 1.75]]) {
      [context.strokeStyle, context.lineWidth] = [style, width];
      context.stroke();
    }
  }

  /** Above the finger; near the top edge beside it, on the side with more room. */
  #place([x, y]) {
    const [width] = this.#view.size;
    const half = SIDE_PX / 2;
    const isRoomAbove = y - AWAY_PX - half > 0;
    const beside = x > width / 2 ? x - AWAY_PX : x + AWAY_PX;
    const left = Math.min(Math.max(half, isRoomAbove ? x : beside), width - half) - half;
    const top = Math.max(0, (isRoomAbove ? y - AWAY_PX : y) - half);
    this.#canvas.style.transform = `translate(${left}px, ${top}px)`;
  }
}
