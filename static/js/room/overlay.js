// Everything drawn over the photo: marks, region, what was counted, the drawing under the finger.
// One SVG; what belongs to the surface scales with the photo, chips and rings keep their size.
import { Counted } from "./counted.js";
import { makeSvg } from "./dom.js";
import { boundsOf, pathOf } from "./geometry.js";

const CHIP = { width: 28, height: 20 };
const RING_PX = 11;
const HANDLE_PX = 14; // a corner's handle, which its chip must not lie under
const TURNED_PX = 7;
const TOLD_PX = 15; // wide enough to look at what it goes round
const REACH_PX = 22; // a thumb need not hit the chip itself

/** An SVG path for points, closed or not. */
const d = ({ points, closed }) => `M${points.map((point) => point.join(",")).join("L")}${closed ? "Z" : ""}`;

const topmost = ({ points }) => points.reduce((best, point) => (point[1] < best[1] ? point : best));

/** Marks are white with a dark edge, so they show on any surface: two strokes, the dark one below. */
function doubleLine(path, names) {
  return ["edge", "line"].map((part) => makeSvg("path", { class: `${part} ${names}`, d: path }));
}

export class Overlay {
  #view;
  #photo;
  #counted;
  #surface = makeSvg("g");
  #screen = makeSvg("g");
  #placed = []; // [element, point of the photo, [dx, dy] on the screen]
  #chips = []; // [id, point of the photo, [dx, dy]]

  /** @param photo  width_px and height_px of the upright original */
  constructor(view, photo) {
    this.#view = view;
    this.#photo = photo;
    this.#counted = new Counted(photo);
    const svg = makeSvg("svg", { class: "overlay", "aria-hidden": "true" }, this.#surface, this.#screen);
    view.element.append(svg);
    view.addEventListener("change", () => this.place());
  }

  /**
   * @param {object} what
   * @param what.marks       [{id, shape, points, code, pattern, isUnsent}]
   * @param what.selectedId  id of the mark in the hand, or null
   * @param what.drawing     {shape, points, isLoose, isTracing} under the finger, or null
   * @param what.region      outline a measurement looks at, or null for the whole photo
   * @param what.isDimmed    whether to darken what lies outside the region
   * @param what.cards       outlines of scale cards
   * @param what.leftOut     outlines of what is not inspected
   * @param what.scalePoints two points a known length apart, or null
   * @param what.counted     {url, opacity} of what a measurement counted, or null
   * @param what.suggested   [{code, shape, points, isLooked}] that could be marked
   * @param what.rejected    [{x, y}] of what it turned away
   * @param what.chosen      index of the one of them that is spoken of, or null
   * @param what.told        {x, y} of the counted void that is spoken of, or null
   */
  draw({ marks, selectedId, drawing, region, isDimmed, cards, leftOut, scalePoints, counted, suggested, rejected, chosen, told }) {
    this.#placed = [];
    this.#chips = [];
    this.#surface.replaceChildren();
    this.#screen.replaceChildren();
    if (counted) this.#surface.append(this.#counted.draw(counted));
    if (region) this.#drawRegion(region, isDimmed);
    for (const card of cards) {
      this.#surface.append(makeSvg("path", { class: "card-edge", d: d({ points: card, closed: true }) }));
    }
    leftOut.forEach((points, index) => this.#drawLeftOut(points, index + 1));
    if (scalePoints) this.#drawTwoPoints(scalePoints);
    for (const one of suggested) {
      const names = `is-suggested${one.isLooked ? " is-selected" : ""}`;
      const path = pathOf(one.shape, one.points);
      this.#surface.append(...doubleLine(d(path), names));
      // Asked, not said: nothing is marked before a person accepts it.
      this.#pin(makeSvg("text", { class: "suggested-name" }, `${one.code}?`), topmost(path), [-10, 18]);
    }
    rejected.forEach((spot, index) => this.#drawRejected(spot, index === chosen));
    if (told) this.#drawTold(told);
    for (const mark of marks) if (mark.id !== selectedId) this.#drawMark(mark, "");
    for (const mark of marks) if (mark.id === selectedId) this.#drawMark(mark, " is-selected");
    if (drawing?.points.length) this.#drawDrawing(drawing);
    this.place();
  }

  /** Follow the picture. */
  place() {
    if (!this.#view.isReady) return;
    const [x, y] = this.#view.toScreen([0, 0]);
    const [ax, ay] = this.#view.toScreen([1000, 0]).map((value, i) => (value - [x, y][i]) / 1000);
    const [bx, by] = this.#view.toScreen([0, 1000]).map((value, i) => (value - [x, y][i]) / 1000);
    this.#surface.setAttribute("transform", `matrix(${ax} ${ay} ${bx} ${by} ${x} ${y})`);
    this.#counted.seenAt(ax);
    for (const [element, point, [dx, dy]] of this.#placed) {
      const [left, top] = this.#view.toScreen(point);
      element.setAttribute("transform", `translate(${left + dx} ${top + dy})`);
    }
  }

  #pin(element, point, offset = [0, 0]) {
    this.#placed.push([element, point, offset]);
    this.#screen.append(element);
  }

  /** The mark whose chip lies under a point of the screen; its id, or null. */
  chipAt([x, y]) {
    const hit = this.#chips.findLast(([, point, [dx, dy]]) => {
      const [left, top] = this.#view.toScreen(point);
      const [offX, offY] = [left + dx + CHIP.width / 2 - x, top + dy + CHIP.height / 2 - y];
      return Math.abs(offX) <= REACH_PX && Math.abs(offY) <= REACH_PX;
    });
    return hit ? hit[0] : null;
  }

  #pinChip(id, chip, point, offset) {
    this.#chips.push([id, point, offset]);
    this.#pin(chip, point, offset);
  }

  #drawMark({ id, shape, points, code, pattern, isUnsent }, selected) {
    const names = `${pattern}${selected}${isUnsent ? " is-unsent" : ""}`;
    const chip = makeSvg("g", { class: `mark-chip chip--${pattern}${selected}` },
      makeSvg("rect", { ...CHIP, rx: 3 }),
      makeSvg("line", { x1: 3, x2: CHIP.width - 3, y1: CHIP.height - 3, y2: CHIP.height - 3 }),
      makeSvg("text", { x: CHIP.width / 2, y: 13.5 }, code));
    if (shape === "point") {
      const ring = makeSvg("g", { class: "spot" },
        ...["edge", "line"].map((part) => makeSvg("circle", { class: `${part} ${names}`, r: RING_PX })),
        makeSvg("circle", { class: "spot__middle", r: 2 }));
      this.#pin(ring, points[0]);
      this.#pinChip(id, chip, points[0], [RING_PX + 1, -RING_PX - CHIP.height + 2]);
      return;
    }
    const path = pathOf(shape, points);
    this.#surface.append(...doubleLine(d(path), names));
    const above = selected ? HANDLE_PX : 5;
    this.#pinChip(id, chip, topmost(path), [-CHIP.width / 2, -CHIP.height - above]);
  }

  #drawRegion(region, isDimmed) {
    const path = d({ points: region, closed: true });
    if (isDimmed) {
      const { width_px: width, height_px: height } = this.#photo;
      this.#surface.append(makeSvg("path", { class: "dim", d: `M0,0H${width}V${height}H0Z${path}` }));
    }
    this.#surface.append(...doubleLine(path, "is-region"));
    const { left, bottom } = boundsOf(region);
    const corner = region.reduce((best, p) => (
      p[0] - left + bottom - p[1] < best[0] - left + bottom - best[1] ? p : best));
    this.#pin(makeSvg("text", { class: "region-name" }, "Region"), corner, [4, 18]);
  }

  #drawLeftOut(points, number) {
    const path = d({ points, closed: true });
    this.#surface.append(makeSvg("path", { class: "left-out", d: path }), ...doubleLine(path, "is-left-out"));
    this.#pin(makeSvg("text", { class: "region-name" }, `Left out ${number}`), topmost({ points }), [4, 18]);
  }

  /** Hollow and cornered, so that it is neither a mark of a person nor a void. */
  #drawRejected({ x, y }, isChosen) {
    const reach = isChosen ? TURNED_PX * 1.8 : TURNED_PX;
    const path = `M0,${-reach}L${reach},0L0,${reach}L${-reach},0Z`;
    const names = `is-turned${isChosen ? " is-selected" : ""}`;
    this.#pin(makeSvg("g", { class: "turned" }, ...doubleLine(path, names)), [x, y]);
  }

  #drawTold({ x, y }) {
    this.#pin(makeSvg("g", { class: "told" }, ...["edge", "line"].map((part) => (
      makeSvg("circle", { class: `${part} is-selected`, r: TOLD_PX })))), [x, y]);
  }

  #drawTwoPoints(points) {
    this.#surface.append(...doubleLine(d({ points, closed: false }), "is-ruler"));
    for (const point of points) this.#drawDot(point, "");
  }

  #drawDrawing({ shape, points, isLoose, isTracing }) {
    const path = isLoose ? { points, closed: false } : pathOf(shape, points);
    if (path.points.length > 1) this.#surface.append(...doubleLine(d(path), "is-drawing"));
    if (!isTracing) for (const point of points) this.#drawDot(point, " is-drawing");
  }

  #drawDot(point, names) {
    this.#pin(makeSvg("circle", { class: `dot${names}`, r: 6 }), point);
  }
}
