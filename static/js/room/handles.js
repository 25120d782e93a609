// Handles of the mark in the hand: real buttons that drag, and that move by arrow keys.
// A corner tapped can be removed; a plus between two corners puts one there.
import { make } from "./dom.js";
import { boundsOf, boxCorners, distance, midpoint, moved, onPhoto, pathOf } from "./geometry.js";

const APART_PX = 36; // nearer handles would lie under one thumb: zoom in to reach them
const ROOM_FOR_PLUS_PX = 110;
const ARROWS = { ArrowLeft: [-1, 0], ArrowRight: [1, 0], ArrowUp: [0, -1], ArrowDown: [0, 1] };
const SETTLE_MS = 600; // after the last arrow key, before it is saved

export class Handles {
  #layer;
  #view;
  #photo;
  #told;
  #buttons = new Map();
  #target = null;
  #settling = null;
  #isDragging = false;
  corner = null; // index of the corner last touched

  /**
   * @param {HTMLElement} layer  lies exactly on the picture
   * @param told  {changed(points), done(points), picked(), under(at, points), lifted()}
   */
  constructor(layer, view, photo, told) {
    this.#layer = layer;
    this.#view = view;
    this.#photo = photo;
    this.#told = told;
    view.addEventListener("change", () => this.#refresh());
  }

  /** @param target  {id, shape, points} or null for none */
  show(target) {
    if (this.#isDragging) return;
    if (target?.id !== this.#target?.id) this.#settleNow();
    if (target?.id !== this.#target?.id) this.corner = null;
    if (this.#settling === null || target === null) this.#target = target && { ...target };
    this.#refresh();
  }

  get canRemoveCorner() {
    const least = { line: 2, outline: 3 }[this.#target?.shape];
    return this.corner !== null && least !== undefined && this.#target.points.length > least;
  }

  removeCorner() {
    if (!this.canRemoveCorner) return;
    const points = this.#target.points.filter((_, i) => i !== this.corner);
    this.corner = null;
    this.#finish(points);
  }

  /** Where handles go: [key, point of the photo, name, offset on the screen]. */
  #wanted() {
    const { shape, points } = this.#target;
    if (shape === "point") return [["whole", points[0], "Spot", [0, 0]]];
    const corners = shape === "box" ? boxCorners(points) : points;
    const wanted = [];
    const taken = [];
    const place = (key, point, name, apart, offset = [0, 0]) => {
      const at = this.#view.toScreen(point);
      const isFree = taken.every((other) => distance(at, other) >= apart);
      if (!isFree && key !== `corner-${this.corner}`) return;
      taken.push(at);
      wanted.push([key, point, name, offset]);
    };
    corners.forEach((point, i) => place(`corner-${i}`, point, `Corner ${i + 1} of ${corners.length}`, APART_PX));
    const whole = this.#whole(corners);
    taken.push(this.#view.toScreen(whole[1]).map((value, i) => value + whole[3][i]));
    if (shape !== "box") this.#gaps(corners).forEach(([i, point]) => place(`plus-${i}`, point, `Add a corner after corner ${i + 1}`, APART_PX));
    wanted.push(whole);
    return wanted;
  }

  /** Middles of edges long enough on the screen to take a plus. */
  #gaps(corners) {
    const last = this.#target.shape === "outline" ? corners.length : corners.length - 1;
    return corners.slice(0, last).flatMap((point, i) => {
      const next = corners[(i + 1) % corners.length];
      const length = distance(this.#view.toScreen(point), this.#view.toScreen(next));
      return length < ROOM_FOR_PLUS_PX ? [] : [[i, midpoint(point, next)]];
    });
  }

  /** The handle that moves everything: in the middle, or below a mark too small to hold it. */
  #whole(corners) {
    const { left, top, right, bottom, width, height } = boundsOf(corners);
    const scale = this.#view.scale;
    const isRoomy = Math.min(width, height) * scale > 3 * APART_PX;
    // The middle of the corners, for that of a triangle's bounds may lie on one of its sides.
    const mean = (axis) => corners.reduce((sum, corner) => sum + corner[axis], 0) / corners.length;
    const at = isRoomy ? [mean(0), mean(1)] : [(left + right) / 2, bottom];
    return ["whole", at, "Whole mark", isRoomy ? [0, 0] : [0, 44]];
  }

  #refresh() {
    const wanted = this.#target && this.#view.isReady ? this.#wanted() : [];
    const keys = new Set(wanted.map(([key]) => key));
    for (const [key, button] of this.#buttons) {
      if (keys.has(key)) continue;
      button.remove();
      this.#buttons.delete(key);
    }
    for (const [key, point, name, [dx, dy]] of wanted) {
      const button = this.#buttons.get(key) ?? this.#create(key);
      const [x, y] = this.#view.toScreen(point);
      button.style.transform = `translate(${x + dx}px, ${y + dy}px)`;
      button.setAttribute("aria-label", key.startsWith("plus")
        ? name : `${name}: arrow keys move it${key === "whole" ? "" : ", Delete removes it"}`);
      button.classList.toggle("is-current", key === `corner-${this.corner}`);
    }
  }

  #create(key) {
    const button = make("button", { type: "button", class: `handle handle--${key.split("-")[0]}` });
    button.addEventListener("pointerdown", (event) => this.#grab(event, button, key));
    button.addEventListener("keydown", (event) => this.#key(event, key));
    button.addEventListener("focus", () => this.#pick(key));
    button.addEventListener("click", ({ detail }) => {
      if (detail === 0 && key.startsWith("plus")) this.#insert(key);
    });
    this.#buttons.set(key, button);
    this.#layer.append(button);
    return button;
  }

  #pick(key) {
    this.corner = key.startsWith("corner") ? Number(key.split("-")[1]) : null;
    this.#refresh();
    this.#told.picked();
  }

  /** Points with one handle moved by so much of the photo. */
  #shifted(points, key, by) {
    if (key === "whole") return this.#heldOnPhoto(moved(points, by));
    const index = Number(key.split("-")[1]);
    const corners = this.#target.shape === "box" ? boxCorners(points) : points;
    const [to] = moved([corners[index]], by).map((p) => onPhoto(p, this.#photo.width_px, this.#photo.height_px));
    if (this.#target.shape === "box") return [corners[(index + 2) % 4], to];
    return corners.map((point, i) => (i === index ? to : point));
  }

  /** A mark pushed over the edge stops there, and keeps its form. */
  #heldOnPhoto(points) {
    const { left, top, right, bottom } = boundsOf(points);
    const back = (low, high, size) => Math.max(0, -low) - Math.max(0, high - size);
    return moved(points, [back(left, right, this.#photo.width_px), back(top, bottom, this.#photo.height_px)]);
  }

  #insert(key) {
    const i = Number(key.split("-")[1]);
    const { points } = this.#target;
    const between = midpoint(points[i], points[(i + 1) % points.length]);
    this.corner = i + 1;
    return this.#finish([...points.slice(0, i + 1), between, ...points.slice(i + 1)]);
  }

  #grab(event, button, key) {
    if (!event.isPrimary || event.button !== 0) return;
    event.preventDefault(); // focus is given below, and the picture must not move
    if (key.startsWith("plus")) return this.#insert(key);
    button.focus({ preventScroll: true });
    this.#isDragging = true;
    const from = [event.clientX, event.clientY];
    const before = this.#target.points;
    const listening = new AbortController();
    const { signal } = listening;
    const end = (isKept) => {
      listening.abort();
      this.#isDragging = false;
      this.#told.lifted();
      if (!isKept) this.#change(before);
      else if (this.#target.points !== before) this.#finish(this.#target.points);
    };
    window.addEventListener("pointermove", ({ pointerId, clientX, clientY }) => {
      if (pointerId !== event.pointerId) return;
      const by = [clientX - from[0], clientY - from[1]];
      if (this.#target.points === before && Math.hypot(...by) < 4) return; // a tap, not a move
      this.#change(this.#shifted(before, key, by.map((value) => value / this.#view.scale)));
      if (event.pointerType !== "mouse") this.#tellUnder(key);
    }, { signal });
    window.addEventListener("pointerup", () => end(true), { signal });
    window.addEventListener("pointercancel", () => end(false), { signal });
    window.addEventListener("pointerdown", () => end(false), { signal, capture: true }); // a second finger
  }

  /** The corner itself is what one wants to see, not what lies under the middle of the thumb. */
  #tellUnder(key) {
    const { shape, points } = this.#target;
    const place = this.#wanted().find(([name]) => name === key)?.[1] ?? points[0];
    this.#told.under(this.#view.toScreen(place), pathOf(shape, points));
  }

  #key(event, key) {
    const by = ARROWS[event.key];
    if (by && !key.startsWith("plus")) {
      event.preventDefault();
      const step = (event.shiftKey ? 10 : 1) / this.#view.scale;
      clearTimeout(this.#settling);
      this.#settling = setTimeout(() => this.#settleNow(), SETTLE_MS);
      this.#change(this.#shifted(this.#target.points, key, by.map((value) => value * step)));
    }
    if (["Delete", "Backspace"].includes(event.key) && key.startsWith("corner") && this.canRemoveCorner) {
      event.preventDefault();
      event.stopPropagation();
      this.removeCorner();
    }
  }

  #settleNow() {
    if (this.#settling === null) return;
    clearTimeout(this.#settling);
    this.#settling = null;
    this.#told.done(this.#target.points, this.#target.id);
  }

  #change(points) {
    this.#target = { ...this.#target, points };
    this.#refresh();
    this.#told.changed(points);
  }

  #finish(points) {
    this.#change(points);
    this.#told.done(points, this.#target.id);
  }
}
