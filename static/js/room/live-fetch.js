// The picture thresholds are tried on: fetched once for each set of settings, worked out in a
// worker, and kept while the page is open.
import { prepared } from "./live-count.js";

const DESK_PX = 8_000_000;
const PHONE_PX = 2_000_000;
const KEPT = 2; // each takes as many bytes as it has pixels

/** How many pixels this device can draw anew for every move of a finger. */
export const pixelsToDraw = () => {
  const isHandheld = matchMedia("(pointer: coarse)").matches || (navigator.deviceMemory ?? 8) < 4;
  return isHandheld ? PHONE_PX : DESK_PX;
};

export class LiveFetch {
  #api;
  #kept = new Map();
  #asked = null;
  #mostPx = pixelsToDraw();

  constructor(api) {
    this.#api = api;
  }

  /** What `prepared` makes of it; null if something else was asked for meanwhile. */
  async get(settings) {
    const body = { ...settings, most_px: this.#mostPx };
    const key = JSON.stringify(body);
    this.#asked = key;
    const kept = this.#kept.get(key);
    const made = kept ?? await this.#worked(await this.#api.live(body));
    this.#kept.delete(key);
    this.#kept.set(key, made);
    if (this.#kept.size > KEPT) this.#kept.delete(this.#kept.keys().next().value);
    return this.#asked === key ? made : null;
  }

  /** Ask for fewer pixels from now on; false if they are as few as on a phone already. */
  goSmaller() {
    const could = this.#mostPx > PHONE_PX;
    this.#mostPx = PHONE_PX;
    return could;
  }

  #worked(buffer) {
    let worker;
    try {
      worker = new Worker(new URL("./live-worker.js", import.meta.url), { type: "module" });
    } catch {
      return prepared(buffer); // a browser without such workers: the page waits a moment
    }
    return new Promise((resolve, reject) => {
      worker.onmessage = ({ data: { made, fault } }) => {
        worker.terminate();
        if (made) resolve(made);
        else reject(new Error(fault));
      };
      worker.onerror = () => {
        worker.terminate();
        reject(new Error("the worker broke"));
      };
      worker.postMessage(buffer);
    });
  }
}
