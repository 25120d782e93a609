// What was drawn and not yet saved, kept in this browser for one photo until the records have it.

export class Outbox {
  #key;
  #storage;
  jobs = [];

  /**
   * @param {number} photoId
   * @param {?Storage} storage  localStorage; null where the browser forbids it (kept in memory then)
   */
  constructor(photoId, storage) {
    this.#key = `defectlog.unsent.${photoId}`;
    this.#storage = storage;
    try {
      const kept = JSON.parse(storage?.getItem(this.#key) ?? "[]");
      if (Array.isArray(kept)) this.jobs = kept.filter((job) => job?.id && job.body);
    } catch {
      this.jobs = []; // unreadable: nothing we could send
    }
  }

  find(id) {
    return this.jobs.find((job) => job.id === id);
  }

  /** A job is {id, markId, body}: a new mark (markId null) or a change of one. Same id: replaced. */
  put(job) {
    this.jobs = [...this.jobs.filter(({ id }) => id !== job.id), job];
    this.#keep();
  }

  drop(id) {
    this.jobs = this.jobs.filter((job) => job.id !== id);
    this.#keep();
  }

  #keep() {
    try {
      if (this.jobs.length) this.#storage?.setItem(this.#key, JSON.stringify(this.jobs));
      else this.#storage?.removeItem(this.#key);
    } catch {
      // Storage is full: what was drawn stays on the screen, and is still sent from there.
    }
  }
}
