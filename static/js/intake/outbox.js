// Photos that are not at the workshop's computer yet, kept in this browser until they are: through
// a lost network, a locked phone, a closed page.

const DATABASE = "defectlog-outbox";
const STORE = "photos";

const settled = (request) =>
  new Promise((resolve, reject) => {
    request.onsuccess = () => resolve(request.result);
    request.onerror = () => reject(request.error);
  });

const finished = (transaction) =>
  new Promise((resolve, reject) => {
    transaction.oncomplete = () => resolve();
    transaction.onerror = transaction.onabort = () => reject(transaction.error);
  });

/** Not crypto.randomUUID, which a browser has only over HTTPS. */
export const newId = () =>
  Array.from(crypto.getRandomValues(new Uint8Array(16)), (byte) => byte.toString(16).padStart(2, "0")).join("");

/**
 * @typedef {object} Entry
 * @property {string} id  the token it is sent with, which makes it one photo however often it is sent
 * @property {number} build
 * @property {string} action  the address it is sent to
 * @property {string} face
 * @property {string} stage
 * @property {File} file
 * @property {number} addedAt
 * @property {boolean} wasTried  it may have arrived without our hearing of it
 * @property {string} refusal  why the computer did not take it, or ""
 * @property {?{holder: string, until: number}} claim  which page is sending it, for how long
 */

export class PhotoOutbox {
  #database;

  constructor(database) {
    this.#database = database;
  }

  /** @returns {Promise<?PhotoOutbox>} null where the browser keeps nothing, as in a private window */
  static async open() {
    try {
      const opening = indexedDB.open(DATABASE, 1);
      opening.onupgradeneeded = () => opening.result.createObjectStore(STORE, { keyPath: "id" });
      return new PhotoOutbox(await settled(opening));
    } catch {
      return null;
    }
  }

  /** @returns {Promise<Entry[]>} in the order they were taken */
  async all() {
    const entries = await settled(this.#store("readonly").getAll());
    return entries.sort((one, other) => one.addedAt - other.addedAt);
  }

  count() {
    return settled(this.#store("readonly").count());
  }

  /** @returns {Promise<boolean>} false if there is no room for it */
  async put(entry) {
    try {
      const store = this.#store("readwrite");
      store.put(entry);
      await finished(store.transaction);
      return true;
    } catch {
      return false;
    }
  }

  async drop(id) {
    const store = this.#store("readwrite");
    store.delete(id);
    await finished(store.transaction);
  }

  /** Change fields of an entry, if it is still there. */
  async mark(id, change) {
    const store = this.#store("readwrite");
    const entry = await settled(store.get(id));
    if (entry) store.put({ ...entry, ...change });
    await finished(store.transaction);
  }

  /**
   * Take an entry for this page, so that no other page of this browser sends it meanwhile.
   *
   * @returns {Promise<"mine"|"theirs"|"gone">}
   */
  async claim(id, holder, now, ms) {
    const store = this.#store("readwrite");
    const entry = await settled(store.get(id));
    if (!entry) return "gone";
    const isTheirs = entry.claim && entry.claim.holder !== holder && entry.claim.until > now;
    if (!isTheirs) store.put({ ...entry, claim: { holder, until: now + ms } });
    await finished(store.transaction);
    return isTheirs ? "theirs" : "mine";
  }

  #store(mode) {
    return this.#database.transaction(STORE, mode).objectStore(STORE);
  }
}
