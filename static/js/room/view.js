// The picture: zooming and panning, and fingers turned into pixels of the photo.
// OpenSeadragon draws and zooms; what a press, a drag or a tap means is decided here, because
// gloves are slow and slip, and because a pinch must never leave a stray mark.

import { distance } from "./geometry.js";
import { COPY_FROM, picturesToKeep, sourceOf, tilesReady } from "./pyramid.js";

const SLIP_TOUCH_PX = 14; // on the screen; less is a tap, however long it took
const SLIP_MOUSE_PX = 5;
const REST_MS = 350; // a finger that stays so long wants to see what it covers
const STEP = 1.4; // one press of a zoom button
const NEARLY = 0.4; // pixels of the screen for one of the largest copy: tiles will be wanted soon

/** The viewer adds a style element that our content security policy blocks; it looks for this first. */
function keepStyleElementOut() {
  const stand_in = document.createElementNS("urn:x", "style");
  stand_in.setAttribute("data-openseadragon-mobile-css", "");
  document.head.append(stand_in);
}

/** The place between two others that is nearest to one and not in the outer quarters. */
const intoMiddle = (at, low, high) => {
  const quarter = (high - low) / 4;
  return Math.min(Math.max(at, low + quarter), high - quarter);
};

/** The whole screen, which may be turned and windows enlarged, in its own pixels. */
const screenSize = () => [screen.width, screen.height].map((length) => length * devicePixelRatio);

/**
 * @fires press, drag, release, tap  with detail.point, pixels of the upright original
 * @fires cancel  a second finger landed: drop what the first one drew
 * @fires under   a finger covers detail.point, at detail.at on the screen
 * @fires lifted  it covers nothing any more
 * @fires change  the picture moved, zoomed or was resized
 * @fires pixels  something of the photo is on the screen
 * @fires tiles   its full pixels can be shown from now on
 */
export class View extends EventTarget {
  #viewer;
  #photo;
  #source;
  #ratio;
  #tilesAsked = false;
  #fingers = new Set();
  #isBlocked = false;
  #start = null; // of a press, on the screen
  #startPoint = null; // the same on the photo
  #isDragging = false;
  #isFinger = false; // else a mouse, which covers nothing
  #resting = null; // a timer, or true once the finger has stayed
  #restsAt = null;

  /** Whether a tool is in the hand: then a double tap places, it does not zoom. */
  isArmed = false;

  /** Whether one finger draws (true) or moves the picture (false). */
  drawsByDrag = false;

  /** Whether a finger that rests places the spot where it lifts; what it covers is shown meanwhile. */
  placesByRest = false;

  constructor(element, photo, { isCalm }) {
    super();
    keepStyleElementOut();
    this.#photo = photo;
    this.#ratio = photo.height_px / photo.width_px;
    this.#source = sourceOf(photo);
    const touch = { pinchRotate: false, flickEnabled: false, clickToZoom: false };
    this.#viewer = OpenSeadragon({
      element,
      drawer: "canvas",
      tileSources: this.#source,
      maxImageCacheCount: picturesToKeep(photo, screenSize()),
      showNavigationControl: false,
      keyboardNavEnabled: false, // the keys are ours, see keys.js
      maxZoomPixelRatio: 12,
      minPixelRatio: COPY_FROM,
      minZoomImageRatio: 0.8,
      visibilityRatio: 0.3,
      animationTime: isCalm ? 0 : 0.35,
      springStiffness: 9,
      clickDistThreshold: SLIP_TOUCH_PX,
      clickTimeThreshold: 600,
      dblClickDistThreshold: 40,
      zoomPerScroll: 1.25,
      gestureSettingsTouch: { ...touch, dblClickToZoom: true },
      gestureSettingsMouse: { clickToZoom: false, dblClickToZoom: true },
      gestureSettingsPen: { ...touch, dblClickToZoom: true },
      gestureSettingsUnknown: { ...touch, dblClickToZoom: true },
    });
    this.element = this.#viewer.canvas;
    this.#listen();
    this.#countFingers();
  }

  /** The picture as it is drawn on the screen, in the screen's own pixels. */
  get drawn() {
    return this.#viewer.drawer.canvas;
  }

  get isReady() {
    return this.#viewer.world.getItemCount() > 0;
  }

  /** Pixels of the screen for one pixel of the photo. */
  get scale() {
    return distance(this.toScreen([0, 0]), this.toScreen([1000, 0])) / 1000;
  }

  /** Whether it was a finger that touched the picture last; else a mouse. */
  get isFinger() {
    return this.#isFinger;
  }

  get size() {
    return [this.#viewer.container.clientWidth, this.#viewer.container.clientHeight];
  }

  toScreen([x, y]) {
    const at = new OpenSeadragon.Point(x / this.#photo.width_px, (y / this.#photo.height_px) * this.#ratio);
    const pixel = this.#viewer.viewport.pixelFromPoint(at, true);
    return [pixel.x, pixel.y];
  }

  toPhoto([x, y]) {
    const at = this.#viewer.viewport.pointFromPixel(new OpenSeadragon.Point(x, y), true);
    return [at.x * this.#photo.width_px, (at.y / this.#ratio) * this.#photo.height_px];
  }

  fit() {
    this.#viewer.viewport?.goHome();
  }

  zoom(isCloser, factor = STEP) {
    this.#viewer.viewport?.zoomBy(isCloser ? factor : 1 / factor).applyConstraints();
  }

  /** Move the picture by so many pixels of the screen. */
  pan([dx, dy]) {
    const viewport = this.#viewer.viewport;
    viewport?.panBy(viewport.deltaPointsFromPixels(new OpenSeadragon.Point(-dx, -dy))).applyConstraints();
  }

  /**
   * Bring some points into what is free of sheets: `covered` pixels at the bottom are not. No farther
   * than into the middle half of it. Returns a function that puts the picture back.
   */
  reveal({ left, top, right, bottom }, covered = 0, above = 24) {
    const { viewport } = this.#viewer;
    const before = viewport.getCenter(false);
    const [width, height] = this.size;
    const [x, y] = this.toScreen([(left + right) / 2, (top + bottom) / 2]);
    const free = height - covered;
    const isSeen = x > 24 && x < width - 24 && y > above && y < free - 24;
    if (isSeen) return () => {};
    const [toX, toY] = [intoMiddle(x, 0, width), intoMiddle(y, Math.min(above, free), free)];
    viewport.panBy(viewport.deltaPointsFromPixels(new OpenSeadragon.Point(x - toX, y - toY)));
    return () => viewport.panTo(before);
  }

  focus() {
    this.element.focus({ preventScroll: true });
  }

  /** Have the full pixels cut when somebody comes close, and show them as soon as they are. */
  async #wantTiles() {
    const { renditions, tiles, width_px: width } = this.#photo;
    if (this.#tilesAsked || !tiles || !this.isReady) return;
    const onScreen = this.scale * window.devicePixelRatio * (width / renditions.at(-1).width_px);
    if (onScreen < NEARLY) return;
    this.#tilesAsked = true;
    if (!await tilesReady(tiles)) return;
    this.#source.maxLevel += tiles.levels.length;
    this.#viewer.world.getItemAt(0).setClip(null); // looks anew which levels it needs
    this.#tell("tiles");
  }

  #tell(type) {
    this.dispatchEvent(new Event(type));
  }

  #tellAt(type, point) {
    this.dispatchEvent(new CustomEvent(type, { detail: { point } }));
  }

  #listen() {
    const viewer = this.#viewer;
    for (const event of ["open", "animation", "update-viewport", "resize"]) {
      viewer.addHandler(event, () => this.#tell("change"));
    }
    this.addEventListener("change", () => this.#wantTiles());
    viewer.addOnceHandler("tile-drawn", () => this.#tell("pixels"));
    viewer.addHandler("canvas-press", ({ position, pointerType }) => {
      this.#start = position;
      this.#startPoint = this.toPhoto([position.x, position.y]);
      this.#isDragging = false;
      this.#isFinger = pointerType !== "mouse";
      this.#lift();
      if (this.#isFinger && this.isArmed && !this.#isBlocked) this.#resting = setTimeout(() => this.#rest(position), REST_MS);
    });
    viewer.addHandler("canvas-drag", (event) => this.#drag(event));
    viewer.addHandler("canvas-release", () => {
      const place = this.#restsAt;
      this.#lift();
      if (!place || this.#isBlocked) return;
      this.#start = null;
      this.#tellAt("tap", place);
    });
    viewer.addHandler("canvas-drag-end", (event) => {
      if (!this.#isDragging || this.#isBlocked) return;
      event.preventDefaultAction = true;
      this.#isDragging = false;
      this.#start = null;
      this.#tell("release");
    });
    viewer.addHandler("canvas-click", ({ position, originalEvent }) => {
      if (this.#isBlocked || !this.#start || originalEvent.button > 0) return;
      const isTap = this.#start.distanceTo(position) <= SLIP_TOUCH_PX;
      if (isTap) this.#tellAt("tap", this.#startPoint);
      this.#start = null;
    });
    viewer.addHandler("canvas-double-click", (event) => {
      event.preventDefaultAction = this.isArmed;
    });
  }

  #drag(event) {
    if (this.#isBlocked || !this.isArmed || !this.#start) return;
    const slip = event.pointerType === "mouse" ? SLIP_MOUSE_PX : SLIP_TOUCH_PX;
    const isSlip = !this.#isDragging && this.#start.distanceTo(event.position) < slip;
    const at = [event.position.x, event.position.y];
    const isAtRest = this.#resting === true && this.placesByRest;
    event.preventDefaultAction = isSlip || this.drawsByDrag || isAtRest;
    if (isSlip && !this.#restsAt) return;
    if (isAtRest) {
      this.#restsAt = this.toPhoto(at);
      this.#tellUnder(at);
      return;
    }
    this.#stopResting();
    if (!this.drawsByDrag) {
      this.#start = null; // the picture moves: no tap any more
      return;
    }
    if (!this.#isDragging) {
      this.#isDragging = true;
      this.#tellAt("press", this.#startPoint);
    }
    this.#tellAt("drag", this.toPhoto(at));
    if (this.#isFinger) this.#tellUnder(at);
  }

  /** The finger has stayed where it landed. */
  #rest({ x, y }) {
    if (this.#isBlocked || this.#isDragging || !(this.placesByRest || this.drawsByDrag)) return;
    this.#resting = true;
    this.#tellUnder([x, y]);
  }

  #stopResting() {
    if (this.#resting !== true) clearTimeout(this.#resting);
    this.#resting = null;
  }

  #lift() {
    this.#stopResting();
    this.#restsAt = null;
    this.#tell("lifted");
  }

  #tellUnder(at) {
    this.dispatchEvent(new CustomEvent("under", { detail: { at, point: this.toPhoto(at) } }));
  }

  /**
   * When one finger of a pinch lifts, the viewer reports a fresh press for the one that stays.
   * So contacts are counted here, before the viewer sees them.
   */
  #countFingers() {
    const element = this.#viewer.element;
    element.addEventListener("pointerdown", ({ pointerId }) => {
      if (this.#fingers.size === 0) this.#isBlocked = false;
      this.#fingers.add(pointerId);
      if (this.#fingers.size < 2) return;
      this.#isBlocked = true;
      this.#isDragging = false;
      this.#lift();
      this.#tell("cancel");
    }, { capture: true });
    for (const gone of ["pointerup", "pointercancel"]) {
      window.addEventListener(gone, ({ pointerId }) => this.#fingers.delete(pointerId));
    }
  }
}
