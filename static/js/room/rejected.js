// What a measurement looked at and did not count: hollow marks over the photo, and the same one by
// one under each reason, so that why a spot was turned away can be had by finger, by key and by ear.
import { make } from "./dom.js";
import { distance } from "./geometry.js";
import { OneByOne } from "./one-by-one.js";

/**
 * @fires change  it is shown or hidden
 * @fires chosen  another spot is chosen; nothing else changed
 */
export class Rejected extends EventTarget {
  #api;
  #does;
  #kept = new Map(); // answers by the id of their measurement: they never change
  #shownId = null;
  #box = make("div", { class: "rejected" });
  #steps = new Map(); // by reason: the slider through its spots, and which those are
  chosen = null;

  /** @param does  {say(words, {stays}), unsay(), reveal(spot)} */
  constructor(api, does) {
    super();
    this.#api = api;
    this.#does = does;
  }

  isShownFor(measurement) {
    return Boolean(measurement) && this.#shownId === measurement.id;
  }

  /** The spots to draw for a measurement; none while they are hidden. */
  spotsOf(measurement) {
    return this.isShownFor(measurement) ? this.#kept.get(measurement.id).spots ?? [] : [];
  }

  async toggle(measurement) {
    const isHiding = this.isShownFor(measurement);
    try {
      if (!this.#kept.has(measurement.id)) {
        this.#kept.set(measurement.id, await this.#api.rejected(measurement.id));
      }
    } catch (fault) {
      this.#does.say(`${fault.what}: ${fault.do}.`);
      return;
    }
    this.#shownId = isHiding ? null : measurement.id;
    this.chosen = null;
    this.#fill(this.#kept.get(measurement.id));
    this.#does.say(isHiding ? "What was turned away is hidden." : this.#kept.get(measurement.id).words);
    this.dispatchEvent(new Event("change"));
  }

  /** The spot nearest to a point of the photo, no further off than a finger reaches; or null. */
  at(measurement, point, reach) {
    let best = null;
    this.spotsOf(measurement).forEach((spot, index) => {
      const away = distance([spot.x, spot.y], point);
      if (away <= Math.max(reach, spot.r_px) && (best === null || away < best.away)) best = { index, away };
    });
    return best?.index ?? null;
  }

  /** Say why a spot was turned away, and show which one it is. */
  choose(measurement, index) {
    const spot = this.spotsOf(measurement)[index];
    this.chosen = index;
    const { steps, spots } = this.#steps.get(spot.why);
    steps.at = spots.indexOf(index) + 1;
    steps.element.closest("details").open = true;
    this.dispatchEvent(new Event("chosen"));
    this.#does.say(`Not counted, ${spot.words}: ${spot.why}.`, { stays: true });
    this.#does.reveal(spot);
  }

  /** Speak of none of them any more; says whether one was spoken of. */
  putDown() {
    if (this.chosen === null) return false;
    this.chosen = null;
    this.#does.unsay();
    this.dispatchEvent(new Event("chosen"));
    return true;
  }

  /** The button and, while it is pressed, the list: kept as they are from one drawing to the next. */
  controls(measurement) {
    const isShown = this.isShownFor(measurement);
    return [
      make("button", { type: "button", class: "wide", id: "rejected", "aria-pressed": String(isShown),
        onclick: () => this.toggle(measurement) }, "Show what was turned away"),
      isShown ? this.#box : null,
    ];
  }

  #fill({ words, spots = [], reasons = [] }) {
    this.#steps = new Map(reasons.map(({ why }) => [why, this.#stepsOf(why, spots)]));
    this.#box.replaceChildren(make("p", {}, words), ...reasons.map(({ why, count_words: count }) => (
      make("details", {}, make("summary", {}, `${count}: ${why}`), this.#steps.get(why).steps.element))));
  }

  /** The slider through the spots of one reason, and their places among all. */
  #stepsOf(why, all) {
    const spots = all.flatMap((spot, index) => (spot.why === why ? [index] : []));
    const choose = (at) => (at ? this.choose({ id: this.#shownId }, spots[at - 1]) : this.putDown());
    return { spots, steps: new OneByOne({ label: "One by one, the largest first", count: spots.length, choose }) };
  }
}
