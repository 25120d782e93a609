// Sends what lies in the outbox, and shows what has arrived and what has not.

import { newId, PhotoOutbox } from "./outbox.js";
import { isUnsent, UploadQueue } from "./queue.js";
import { Row } from "./row.js";
import { askReceived, sendPhoto } from "./send.js";
import { summaryWords } from "./words.js";

const CLAIM_MS = 60_000; // longer than a page stays silent while it sends
const RENEW_MS = 10_000;
const PAGE = newId();

export class Sender {
  #root;
  #outbox = null; // until it is open, or for good where the browser keeps nothing
  #ready;
  #queue;
  #build;
  #rows = new Map();

  /** @param {HTMLElement} root  holds [data-outbox-said], [data-outbox-list], [data-outbox-row] */
  constructor(root) {
    this.#root = root;
    this.#build = Number(root.dataset.build) || null;
    this.#queue = new UploadQueue({
      send: (item, progress) => this.#send(item, progress),
      changed: (item) => this.#changed(item),
    });
    window.addEventListener("online", () => this.#queue.wake());
    document.addEventListener("visibilitychange", () => {
      if (!document.hidden) this.#queue.wake();
    });
    window.addEventListener("beforeunload", (event) => {
      if (this.#hasLoose()) event.preventDefault();
    });
    this.#ready = this.#bringBack();
  }

  get items() {
    return this.#queue.items;
  }

  /** A photo just taken or chosen: kept first, then sent. */
  async add({ build, action, face, stage, file }) {
    await this.#ready;
    const entry = { id: newId(), build, action, face, stage, file, addedAt: Date.now(), wasTried: false, refusal: "" };
    const isKept = (await this.#outbox?.put(entry)) ?? false;
    return this.#queue.add({ ...entry, isLoose: !isKept });
  }

  async #bringBack() {
    this.#outbox = await PhotoOutbox.open();
    for (const entry of (await this.#outbox?.all()) ?? []) {
      if (entry.refusal) this.#queue.add(entry, { state: "refused", sentence: entry.refusal });
      else this.#queue.add(entry);
    }
    this.#sum();
  }

  async #send(item, progress) {
    if (!item.isLoose) {
      const whose = await this.#outbox.claim(item.id, PAGE, Date.now(), CLAIM_MS);
      if (whose === "theirs") return { state: "away", sentence: "Another page of this browser is sending it" };
      if (whose === "gone") item.wasTried = true;
    }
    if (item.wasTried) {
      const { isReached, answer } = await askReceived(item.id);
      if (!isReached) return { state: "away", sentence: "The workshop’s computer was not reached" };
      if (answer) return { state: "known", share: 1, answer, sentence: "" };
    }
    item.wasTried = true;
    if (!item.isLoose) await this.#outbox.mark(item.id, { wasTried: true, refusal: "" });
    let renewed = Date.now();
    return sendPhoto(item, (share) => {
      progress(share);
      if (item.isLoose || Date.now() - renewed < RENEW_MS) return;
      renewed = Date.now();
      this.#outbox.claim(item.id, PAGE, renewed, CLAIM_MS);
    });
  }

  #changed(item) {
    if (!item.isLoose) this.#keepUp(item);
    let row = this.#rows.get(item);
    if (!row) {
      row = new Row(this.#part("row"), item, {
        build: item.build === this.#build ? null : item.build,
        again: () => this.#queue.again(item),
        away: () => this.#throwAway(item),
      });
      this.#rows.set(item, row);
      this.#part("list").append(row.element);
    }
    row.show(item);
    this.#sum();
    this.#root.dispatchEvent(new CustomEvent("outbox", { detail: { item, items: this.items } }));
  }

  #keepUp(item) {
    if (item.state === "saved" || item.state === "known") this.#outbox.drop(item.id);
    else if (item.state === "refused") this.#outbox.mark(item.id, { refusal: item.sentence, claim: null });
    else if (item.state === "away") this.#outbox.mark(item.id, { claim: null });
  }

  #throwAway(item) {
    this.#queue.remove(item);
    this.#rows.get(item)?.element.remove();
    this.#rows.delete(item);
    if (!item.isLoose) this.#outbox.drop(item.id);
    this.#sum();
  }

  #sum() {
    const { items, saved, unsent } = this.#queue;
    this.#root.hidden = items.length === 0 && !("always" in this.#root.dataset);
    const refused = items.length - saved - unsent;
    const words = summaryWords({ saved, unsent, refused, isLoose: this.#hasLoose() });
    // Set only when it changes, or a screen reader says it again with every step of progress.
    if (this.#part("said").textContent !== words) this.#part("said").textContent = words;
  }

  #hasLoose() {
    return this.items.some((item) => item.isLoose && isUnsent(item));
  }

  #part(name) {
    return this.#root.querySelector(`[data-outbox-${name}]`);
  }
}
