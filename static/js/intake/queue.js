// Photos are sent one after another. What could not be sent for lack of a network stays at the head
// and is tried again; what was refused steps aside, and waits for a person to say "again".

const FIRST_PAUSE_MS = 2000;
const LONGEST_PAUSE_MS = 60_000;

/** How long to wait before the next try, after so many tries that met no network. */
export const pauseMs = (tries) => Math.min(FIRST_PAUSE_MS * 2 ** (tries - 1), LONGEST_PAUSE_MS);

const UNSENT = new Set(["waiting", "sending", "away"]);

export const isUnsent = ({ state }) => UNSENT.has(state);

/**
 * @typedef {object} Item
 * @property {"waiting"|"sending"|"away"|"saved"|"known"|"refused"} state
 * @property {number} share  how much of it is sent, 0 to 1
 * @property {string} sentence  why not, when it is away or refused
 * @property {?object} answer  what the server said of the saved photo
 */

export class UploadQueue {
  #send;
  #changed;
  #pause;
  #isRunning = false;
  #wake = null;
  /** @type {Item[]} */
  items = [];

  /**
   * @param {object} parts
   * @param {(item: Item, progress: (share: number) => void) => Promise<object>} parts.send
   *   resolves to {state, sentence, answer} with state saved, known, refused or away; never rejects
   * @param {(item: Item) => void} parts.changed  called after every change of an item
   * @param {(tries: number) => number} [parts.pause]
   */
  constructor({ send, changed, pause = pauseMs }) {
    this.#send = send;
    this.#changed = changed;
    this.#pause = pause;
  }

  get unsent() {
    return this.items.filter(isUnsent).length;
  }

  get saved() {
    return this.items.filter(({ state }) => state === "saved" || state === "known").length;
  }

  /**
   * @param {object} load  what `send` needs: the file and what is known about it
   * @param {object} [standing]  how it stands, if it was refused before
   */
  add(load, standing = {}) {
    const item = { ...load, state: "waiting", share: 0, sentence: "", answer: null, tries: 0, ...standing };
    this.items.push(item);
    this.#changed(item);
    this.#run();
    return item;
  }

  /** Forget a photo that is not on its way. */
  remove(item) {
    this.items = this.items.filter((other) => other !== item);
  }

  again(item) {
    if (item.state === "away") this.wake();
    if (item.state !== "refused") return;
    this.#set(item, { state: "waiting", share: 0, sentence: "" });
    this.#run();
  }

  /** The network may be back: do not wait out the pause. */
  wake() {
    this.#wake?.();
  }

  async #run() {
    if (this.#isRunning) return;
    this.#isRunning = true;
    let item;
    while ((item = this.items.find(({ state }) => state === "waiting"))) await this.#sendOne(item);
    this.#isRunning = false;
  }

  async #sendOne(item) {
    this.#set(item, { state: "sending", share: 0, sentence: "" });
    const outcome = await this.#send(item, (share) => this.#set(item, { share }));
    this.#set(item, outcome);
    if (outcome.state !== "away") return;
    item.tries += 1;
    await this.#rest(this.#pause(item.tries));
    this.#set(item, { state: "waiting", share: 0 });
  }

  #rest(ms) {
    return new Promise((resolve) => {
      const timer = setTimeout(resolve, ms);
      this.#wake = () => {
        clearTimeout(timer);
        resolve();
      };
    }).finally(() => {
      this.#wake = null;
    });
  }

  #set(item, change) {
    Object.assign(item, change);
    this.#changed(item);
  }
}
