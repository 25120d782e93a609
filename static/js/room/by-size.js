// The counted voids one by one, from the largest on or by a tap: what each is like is said, and a
// ring shows which one is spoken of.
import { OneByOne } from "./one-by-one.js";

/** @fires chosen  another void is spoken of, or none any more */
export class BySize extends EventTarget {
  #api;
  #does;
  #of = null; // the measurement they belong to
  #steps = null;
  #wanted = null; // what to ask for when the answer that is awaited is there
  #isAsking = false;
  chosen = null;

  /** @param does  {say(words, {stays}), unsay(), reveal(spot)} */
  constructor(api, does) {
    super();
    this.#api = api;
    this.#does = does;
  }

  /** Those of the measurement that is shown, or null; called with every change of it. */
  showFor(measurement) {
    if (this.#of?.id === measurement?.id) return;
    this.putDown();
    this.#of = measurement;
    this.#steps = !measurement?.count ? null : new OneByOne({
      label: "Voids one by one, the largest first", id: "by-size", count: measurement.count,
      choose: (at) => (at ? this.#ask(() => this.#api.voidBySize(measurement.id, at)) : this.putDown()),
    });
  }

  /** The slider through them, or null: the same from one drawing to the next. */
  get element() {
    return this.#steps?.element ?? null;
  }

  /** To the next smaller one (1) or the next larger one (-1). */
  step(by) {
    this.#steps?.step(by);
  }

  /** Speak of the one at a point of the photo, if there is one within reach. */
  tellAt(point, reach) {
    return this.#ask(() => this.#api.voidAt(this.#of.id, point, reach));
  }

  /** Speak of none of them any more; says whether one was spoken of. */
  putDown() {
    this.#wanted = null;
    if (this.chosen === null) return false;
    this.chosen = null;
    this.#does.unsay();
    this.dispatchEvent(new Event("chosen"));
    return true;
  }

  /** A key that is held down asks faster than is answered: then only the last one counts. */
  async #ask(query) {
    this.#wanted = query;
    if (this.#isAsking) return;
    this.#isAsking = true;
    try {
      for (let asked = query; asked; asked = this.#wanted) {
        const { void: one } = await asked();
        if (asked !== this.#wanted) continue;
        this.#wanted = null;
        if (one) this.#speakOf(one);
      }
    } catch (fault) {
      this.#wanted = null;
      this.#does.say(`${fault.what}: ${fault.do}.`);
    } finally {
      this.#isAsking = false;
    }
  }

  #speakOf(one) {
    this.chosen = one;
    this.#steps.at = one.rank;
    this.dispatchEvent(new Event("chosen")); // puts down what was spoken of before
    this.#does.say(one.words, { stays: true });
    this.#does.reveal(one);
  }
}
