// The marks of this photo: what the records hold, what is on its way there, and undo.
import { Outbox } from "./outbox.js";

const newId = () => Array.from(crypto.getRandomValues(new Uint8Array(12)), (byte) =>
  byte.toString(16).padStart(2, "0")).join("");

/**
 * @fires change  something to draw anew
 * @fires said    detail.words, to announce
 * @fires fault   detail.fault, detail.retry (a function), detail.about (id of what is unsent, if so)
 */
export class Marks extends EventTarget {
  #api;
  #outbox;
  #faults = new Map(); // unsent id → Fault
  #queue = Promise.resolve();
  #done = [];
  #undone = [];
  state;
  selectedId = null;

  constructor(api, state, storage) {
    super();
    this.#api = api;
    this.state = state;
    this.#outbox = new Outbox(state.photo.id, storage);
  }

  /** Marks as they should look now: the records' own, changed by what is unsent, and new ones. */
  get all() {
    const jobs = this.#outbox.jobs;
    const saved = this.state.marks.map((mark) => {
      const job = jobs.find(({ markId }) => markId === mark.id);
      return job ? { ...mark, points: job.body.points, ...this.#waiting(job) } : mark;
    });
    const fresh = jobs.filter((job) => job.markId === null).map((job) => this.#fresh(job));
    return [...saved, ...fresh];
  }

  get selected() {
    return this.all.find((mark) => mark.id === this.selectedId) ?? null;
  }

  get unsent() {
    return this.#outbox.jobs.map(({ id, markId }) => ({ id, markId, fault: this.#faults.get(id) ?? null }));
  }

  get canUndo() {
    return this.#done.length > 0;
  }

  get canRedo() {
    return this.#undone.length > 0;
  }

  take(state) {
    this.state = state;
    for (const job of this.#outbox.jobs) {
      const isGone = job.markId !== null && !state.marks.some(({ id }) => id === job.markId);
      if (isGone) this.#outbox.drop(job.id);
    }
    if (this.selectedId !== null && !this.selected) this.selectedId = null;
    this.#tell("change");
  }

  select(id) {
    if (this.selectedId === id) return;
    this.selectedId = id;
    this.#tell("change");
  }

  /** Save a new mark. `choice` is {kind} or {finding_id}; a suggested mark has its `id` already. */
  add({ shape, points }, choice, id = newId()) {
    this.#outbox.put({ id, markId: null, body: { shape, points: rounded(points), ...choice, client_id: id } });
    this.selectedId = id;
    this.#tell("change");
    return this.send(id);
  }

  /** Save other points for a mark, a saved or an unsent one. */
  reshape(id, points) {
    const job = this.#outbox.find(id);
    const body = { points: rounded(points) };
    if (job) this.#outbox.put({ ...job, body: { ...job.body, ...body } });
    else this.#outbox.put({ id: `edit-${id}`, markId: id, body });
    this.#tell("change");
    return this.send(job ? id : `edit-${id}`);
  }

  /** Another kind for the finding a mark belongs to ({kind}), or another finding ({finding_id}). */
  rename(id, choice) {
    const job = this.#outbox.find(id);
    if (job) {
      const { shape, points, client_id } = job.body;
      this.#outbox.put({ ...job, body: { shape, points, client_id, ...choice } });
      this.#tell("change");
      return this.send(id);
    }
    const { kind, finding_id } = this.state.marks.find((mark) => mark.id === id);
    const before = choice.kind ? { kind } : { finding_id };
    return this.#run(() => this.#api.editMark(id, choice), ({ state }) => {
      this.#remember({ does: "edit", id, before, after: choice });
      this.take(state);
      this.#say("Kind changed.");
    });
  }

  remove(id) {
    if (this.#outbox.find(id)) return this.forget(id);
    return this.#run(() => this.#api.deleteMark(id), ({ state }) => {
      this.#outbox.drop(`edit-${id}`);
      this.#remember({ does: "delete", id });
      this.take(state);
      this.#say("Mark deleted. Undo brings it back.");
    });
  }

  /** Throw away something unsent. */
  forget(id) {
    this.#outbox.drop(id);
    this.#faults.delete(id);
    this.take(this.state);
    this.#say("Thrown away.");
  }

  /** Send, or send again, one unsent thing; told only once that it fails if `isQuiet`. */
  send(id, { isQuiet = false } = {}) {
    return this.#queued(async () => {
      const job = this.#outbox.find(id);
      if (!job) return;
      const before = this.state.marks.find((mark) => mark.id === job.markId)?.points;
      try {
        const answer = job.markId === null
          ? await this.#api.addMark(job.body) : await this.#api.editMark(job.markId, job.body);
        this.#settle(job, answer, before);
      } catch (fault) {
        this.#faults.set(id, fault);
        this.#tell("change");
        if (!isQuiet) this.#tell("fault", { fault, about: id, retry: () => this.send(id) });
      }
    });
  }

  sendAll() {
    return Promise.all(this.#outbox.jobs.map(({ id }) => this.send(id)));
  }

  /** Try what found nobody there; what was refused waits for a person. */
  sendWaiting() {
    const waiting = this.unsent.filter(({ fault }) => fault?.isAway);
    return Promise.all(waiting.map(({ id }) => this.send(id, { isQuiet: true })));
  }

  undo() {
    return this.#step(this.#done, this.#undone, "Undone.", {
      add: ({ id }) => this.#api.deleteMark(id),
      delete: ({ id }) => this.#api.restoreMark(id),
      edit: ({ id, before }) => this.#api.editMark(id, before),
    });
  }

  redo() {
    return this.#step(this.#undone, this.#done, "Done again.", {
      add: ({ id }) => this.#api.restoreMark(id),
      delete: ({ id }) => this.#api.deleteMark(id),
      edit: ({ id, after }) => this.#api.editMark(id, after),
    });
  }

  #step(from, to, words, ways) {
    return this.#queued(() => {
      const step = from.at(-1);
      if (!step) return undefined;
      return this.#attempt(() => ways[step.does](step), ({ state }) => {
        to.push(from.pop());
        this.take(state);
        this.#say(words);
      });
    });
  }

  #settle(job, answer, before) {
    // Changed again while it was on its way? Then the newer change stays in the outbox.
    if (this.#outbox.find(job.id) === job) this.#outbox.drop(job.id);
    this.#faults.delete(job.id);
    if (job.markId === null) {
      const isHeld = this.selectedId === job.id;
      if (isHeld) this.selectedId = answer.mark_id;
      this.#remember({ does: "add", id: answer.mark_id });
      this.#say("Mark saved.");
    } else {
      this.#remember({ does: "edit", id: job.markId, before: { points: before }, after: job.body });
      this.#say("Mark moved.");
    }
    this.take(answer.state);
  }

  #fresh({ id, body }) {
    const finding = this.state.findings.find((other) => other.id === body.finding_id);
    const key = body.kind ?? finding?.kind;
    const kind = this.state.kinds.find((other) => other.key === key) ?? finding;
    const { code = "??", family = "" } = kind ?? {};
    return { id, finding_id: finding?.id ?? null, kind: key, code, family, shape: body.shape,
      points: body.points, ...this.#waiting({ id }) };
  }

  /** How something on its way looks: as saved at first, and as unsent once that has failed. */
  #waiting({ id }) {
    const isUnsent = this.#faults.has(id);
    return { isUnsent, size_words: isUnsent ? "not saved yet" : "being saved …" };
  }

  #remember(step) {
    this.#done.push(step);
    this.#undone.length = 0;
  }

  #run(ask, then) {
    return this.#queued(() => this.#attempt(ask, then));
  }

  async #attempt(ask, then) {
    try {
      then(await ask());
    } catch (fault) {
      this.#tell("fault", { fault, retry: () => this.#run(ask, then) });
    }
  }

  /** One request at a time, for each answer carries the whole state. */
  #queued(work) {
    this.#queue = this.#queue.then(work, work);
    return this.#queue;
  }

  #say(words) {
    this.#tell("said", { words });
  }

  #tell(type, detail) {
    this.dispatchEvent(new CustomEvent(type, { detail }));
  }
}

/** A tenth of a pixel is far finer than a finger, and keeps requests short. */
const rounded = (points) => points.map((point) => point.map((value) => Math.round(value * 10) / 10));
