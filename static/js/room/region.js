// The outlined part of the surface that a measurement inspects. Remembered here until it is cleared.

export class Region extends EventTarget {
  #key;
  #storage;
  points = null;
  isHeld = false;

  constructor(photoId, storage, latest) {
    super();
    this.#key = `defectlog.region.${photoId}`;
    this.#storage = storage;
    try {
      this.points = JSON.parse(storage?.getItem(this.#key) ?? "null") ?? latest;
    } catch {
      this.points = latest;
    }
  }

  set(points, { isHeld = this.isHeld } = {}) {
    this.points = points && points.map((point) => point.map((value) => Math.round(value * 10) / 10));
    this.isHeld = isHeld && points !== null;
    try {
      if (points) this.#storage?.setItem(this.#key, JSON.stringify(this.points));
      else this.#storage?.removeItem(this.#key);
    } catch {
      // Storage is full: the region lasts as long as the page.
    }
    this.dispatchEvent(new Event("change"));
  }

  /** Whether it is the very outline given; null is the whole photo. */
  is(points) {
    return JSON.stringify(points) === JSON.stringify(this.points);
  }

  hold(isHeld) {
    if (this.isHeld === isHeld) return;
    this.isHeld = isHeld;
    this.dispatchEvent(new Event("change"));
  }
}
