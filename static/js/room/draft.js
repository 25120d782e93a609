// A shape half drawn, kept in this browser until it is finished or dropped: a phone may close the
// page while the camera or a call is in front of it.

export class Draft {
  #key;
  #storage;

  constructor(photoId, storage) {
    this.#key = `defectlog.half-drawn.${photoId}`;
    this.#storage = storage;
  }

  /** {name, points} as kept, or null. */
  get kept() {
    try {
      const kept = JSON.parse(this.#storage?.getItem(this.#key) ?? "null");
      const isWhole = Array.isArray(kept?.points) && kept.points.length > 0
        && kept.points.every((point) => point?.length === 2 && point.every(Number.isFinite));
      return isWhole && typeof kept.name === "string" ? kept : null;
    } catch {
      return null;
    }
  }

  /** Whether it is kept; without room for it, it lasts as long as the page. */
  keep(name, points) {
    try {
      if (points.length) this.#storage?.setItem(this.#key, JSON.stringify({ name, points }));
      else this.#storage?.removeItem(this.#key);
      return Boolean(this.#storage);
    } catch {
      return false;
    }
  }
}
