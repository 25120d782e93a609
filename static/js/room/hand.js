// The tool in the hand: which one, what it has drawn so far, and where its presses come from.
import { BoxTool } from "./box-tool.js";
import { distance, onPhoto } from "./geometry.js";
import { LineTool } from "./line-tool.js";
import { OutlineTool } from "./outline-tool.js";
import { SpotTool } from "./spot-tool.js";
import { TwoPointTool } from "./two-point-tool.js";

const TOOLS = { spot: SpotTool, line: LineTool, outline: OutlineTool, box: BoxTool,
  region: OutlineTool, "leave-out": OutlineTool, ruler: TwoPointTool };
// How far off a place may be on the screen, 95 % of the time: what lies under a finger is not seen.
// Judgement, not measured with gloves on.
const OFF_PX = { finger: 8, mouse: 3, crossHair: 2 };
const SAME_PLACE_PX = 3; // the cross-hair twice on one spot ends a shape

export const HINTS = {
  look: "",
  spot: "Tap the spot.",
  line: "Draw along it, or tap bend by bend and the last one twice.",
  outline: "Draw round it, or tap corner by corner.",
  box: "Drag from corner to corner, or tap two corners.",
  region: "Draw round the surface to inspect, or tap corner by corner.",
  "leave-out": "Draw round what is not to be counted: writing, glare, something lying there.",
  ruler: "Tap the two ends of something whose length you know. Come closer for a surer scale.",
};
const KEY_HINT = "Arrow keys move the cross-hair, Enter places, Enter again on the same spot ends, Escape drops.";

/**
 * @fires change
 * @fires taken  another tool; detail.name, detail.hint
 * @fires placed a corner was put under the cross-hair; detail.corners, how many there are
 * @fires drawn  detail.name, detail.shape, detail.points
 */
export class Hand extends EventTarget {
  #view;
  #aim;
  #photo;
  #tool = null;
  #isAiming = false;
  #isPlacing = false;
  name = "look";

  constructor(view, aim, photo) {
    super();
    this.#view = view;
    this.#aim = aim;
    this.#photo = photo;
    view.addEventListener("press", ({ detail }) => {
      this.#aim.show(false);
      this.#tool?.press(this.#held(detail.point));
    });
    view.addEventListener("drag", ({ detail }) => this.#tool?.drag(this.#held(detail.point)));
    view.addEventListener("release", () => this.#tool?.release());
    view.addEventListener("cancel", () => this.#tool?.cancel());
    view.addEventListener("tap", ({ detail }) => {
      if (!this.#tool) return;
      if (!this.#isAiming) this.#aim.show(false);
      if (this.#isAiming) this.place();
      else this.#tool.tap(this.#held(detail.point));
    });
    aim.addEventListener("change", () => this.#changed());
  }

  /** Take a tool; the one already in the hand is put down. */
  take(name, { byKeyboard = false } = {}) {
    const wanted = name === this.name && !byKeyboard ? "look" : name;
    this.#tool?.cancel();
    this.name = wanted;
    const Tool = TOOLS[wanted];
    this.#tool = Tool ? new Tool({
      gap: (a, b) => distance(a, b) * this.#view.scale,
      unsure: () => OFF_PX[this.#pointsWith],
      changed: () => this.#changed(),
      drawn: (drawn) => this.#tell("drawn", { name: this.name, ...drawn }),
    }) : null;
    this.#isAiming = false;
    this.#aim.show(Boolean(Tool) && byKeyboard);
    this.#arm();
    const hint = byKeyboard && Tool ? `${HINTS[wanted]} ${KEY_HINT}` : HINTS[wanted];
    this.#tell("taken", { name: wanted, hint });
    this.#changed();
    if (byKeyboard && Tool) this.#view.focus();
  }

  get isEmpty() {
    return this.#tool === null;
  }

  get isAiming() {
    return this.#isAiming;
  }

  get hasDrawn() {
    return Boolean(this.#tool?.points.length);
  }

  get isTracing() {
    return Boolean(this.#tool?.isTracing);
  }

  get canFinish() {
    return this.hasDrawn && this.#tool.points.length >= this.#tool.least;
  }

  /** What lies under the finger, with the stretch to the cross-hair; null for nothing. */
  get drawing() {
    if (!this.hasDrawn) return null;
    const { shape, points, isLoose, isTracing } = this.#tool;
    const isWhole = shape === "point" || (shape === "box" && points.length === 2);
    if (isWhole || isTracing || !this.#aim.isShown) return { shape, isLoose, isTracing, points };
    const aimedAt = this.#held(this.#aim.point);
    const isThere = distance(aimedAt, points.at(-1)) * this.#view.scale < SAME_PLACE_PX;
    return { shape, isLoose, isTracing, points: isThere ? points : [...points, aimedAt] };
  }

  /** Hold the cross-hair fixed, so that a drag moves the picture under it. */
  aim(isAiming) {
    this.#isAiming = isAiming;
    this.#aim.show(isAiming);
    this.#arm();
    this.#changed();
  }

  /** Put a corner under the cross-hair. */
  place() {
    if (!this.#tool) return;
    if (!this.#aim.isShown) {
      this.#aim.show(true);
      return;
    }
    const before = this.#tool.points.length;
    this.#isPlacing = true;
    this.#tool.tap(this.#held(this.#aim.point), SAME_PLACE_PX);
    this.#isPlacing = false;
    const corners = this.#tool.points.length;
    if (corners > before) this.#tell("placed", { corners });
  }

  /** The corners set so far; none while a finger is on its way. */
  get corners() {
    return this.#tool && !this.#tool.isTracing ? this.#tool.points : [];
  }

  /** Go on with what was half drawn. */
  resume({ name, points }) {
    if (!TOOLS[name]) return;
    this.take(name);
    this.#tool.resume(points.map((point) => this.#held(point)));
  }

  moveAim(event) {
    return this.#tool !== null && this.#aim.key(event);
  }

  finish() {
    this.#tool?.finish();
  }

  back() {
    this.#tool?.back();
  }

  /** Drop what is drawn; with nothing drawn, put the tool down. */
  drop() {
    if (this.hasDrawn) this.#tool.cancel();
    else this.take("look");
  }

  get #pointsWith() {
    if (this.#isPlacing) return "crossHair";
    return this.#view.isFinger ? "finger" : "mouse";
  }

  #held(point) {
    return onPhoto(point, this.#photo.width_px, this.#photo.height_px);
  }

  #arm() {
    this.#view.isArmed = this.#tool !== null;
    this.#view.drawsByDrag = Boolean(this.#tool?.drawsByDrag) && !this.#isAiming;
    this.#view.placesByRest = this.#tool !== null && !this.#tool.drawsByDrag && !this.#isAiming;
  }

  #changed() {
    this.#tell("change");
  }

  #tell(type, detail) {
    this.dispatchEvent(new CustomEvent(type, { detail }));
  }
}
