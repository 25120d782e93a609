// Measuring voids: the region, the settings, the run, and what came out in words.
// A measurement is never edited; measuring again puts a newer one above it.
import { BySize } from "./by-size.js";
import { byId, make, makeSvg } from "./dom.js";
import { Rejected } from "./rejected.js";
import { areaWords, momentWords, readNumber } from "./words.js";

const STAGES = [
  [0, "Measuring voids: evening out the light …"],
  [2500, "Measuring voids: telling weave from voids …"],
  [7000, "Measuring voids: counting and sizing …"],
  [20000, "Still measuring. A large photo takes a while …"],
];

const alike = (a, b) => JSON.stringify(a) === JSON.stringify(b);

const saidOf = ({ void_pct_words: share, count_words: count }) => `Void fraction ${share}. ${count}.`;

/**
 * @fires change    something else is to be drawn
 * @fires shown     another measurement was chosen
 * @fires strength  only what lies over the picture changed
 * @fires running   a run began or ended
 * @fires automatic a run by the photo's own threshold begins while the threshold is under the finger
 */
export class MeasurePanel extends EventTarget {
  #api;
  #does;
  #state = null;
  #shownId = null;
  #isRunning = false;
  #areSizesOpen = false;
  bySize;
  rejected;
  isCountedShown = true;
  isLive = false; // the threshold is under the finger, and its own picture lies over the photo
  opacity = 1;

  /** @param does  {region(), leaveOut(), take(state), say(words), unsay(), outline(), log(measurement), reveal(spot)} */
  constructor(api, does) {
    super();
    this.#api = api;
    this.#does = does;
    this.rejected = new Rejected(api, does);
    this.bySize = new BySize(api, does);
    this.rejected.addEventListener("change", () => this.dispatchEvent(new Event("change")));
    this.rejected.addEventListener("chosen", () => this.#speaks(this.rejected, this.bySize));
    this.bySize.addEventListener("chosen", () => this.#speaks(this.bySize, this.rejected));
    byId("measure").addEventListener("click", () => this.measure());
    for (const input of byId("measure-settings").querySelectorAll("input")) {
      input.addEventListener("input", () => this.#tellFault(null));
    }
  }

  /** The measurement whose result and picture are shown, or null. */
  get shown() {
    return this.#state?.measurements.find(({ id }) => id === this.#shownId) ?? null;
  }

  /** What to lay over the photo: {url, opacity}, or null. */
  get counted() {
    const { shown } = this;
    return shown?.overlay_url && this.isCountedShown && !this.isLive ? { url: shown.overlay_url, opacity: this.opacity } : null;
  }

  show(id) {
    this.#shownId = id;
    this.isCountedShown = true;
    this.dispatchEvent(new Event("shown"));
    byId("result").querySelector("button")?.focus({ preventScroll: true });
    byId("result").scrollIntoView({ block: "start" });
    this.#does.say(saidOf(this.shown));
  }

  /** Show the words of a measurement without laying its picture over the photo. */
  showQuietly(id) {
    this.#shownId = id;
    this.isCountedShown = false;
  }

  /** Other surface is outlined: show the latest measurement of it, or none; all stay in the list. */
  showAlike(isAlike) {
    this.#shownId = this.#state.measurements.find(isAlike)?.id ?? null;
    this.#tellFault(null);
  }

  /** Say what the counted void at a point of the photo is like, if there is one within reach. */
  tellVoid(point, reach) {
    if (this.counted) this.bySize.tellAt(point, reach);
  }

  /** Speak of no void and of nothing turned away any more; says whether one was spoken of. */
  putDown() {
    return [this.bySize, this.rejected].filter((one) => one.putDown()).length > 0;
  }

  /** Of the two only one is spoken of; a counted void is shown among the others. */
  #speaks(one, other) {
    if (one.chosen !== null) other.putDown();
    const isHidden = one === this.bySize && one.chosen !== null && !this.isCountedShown;
    if (isHidden) this.isCountedShown = true;
    this.dispatchEvent(new Event(isHidden ? "change" : "strength"));
  }

  toggleCounted() {
    this.isCountedShown = !this.isCountedShown;
    if (!this.isCountedShown) this.bySize.putDown();
    this.#does.say(this.isCountedShown ? "Counted voids shown." : "Counted voids hidden.");
    this.dispatchEvent(new Event("change"));
  }

  /** What to ask for, as it is set: region, areas left out, look and smallest void. */
  get settings() {
    return {
      region: this.#does.region(),
      leave_out: this.#does.leaveOut(),
      look: byId("measure-settings").querySelector("[name=look]:checked").value,
      smallest_mm: byId("smallest").value.trim() || null,
    };
  }

  /** The latest measurement made with these settings and no threshold set by hand, or null. */
  automatic({ region, leave_out: leftOut, look, smallest_mm: smallest }) {
    return this.#state.measurements.find((one) => one.threshold === null && one.look_asked === look
      && one.smallest_mm === (smallest === null ? null : readNumber(smallest))
      && alike(one.region, region) && alike(one.leave_out, leftOut)) ?? null;
  }

  /** Measure, by a threshold set by hand if one is given; returns what was kept, or null. */
  async measure({ threshold = null } = {}) {
    if (this.#isRunning) return null;
    if (threshold === null && this.isLive) this.dispatchEvent(new Event("automatic"));
    this.#setRunning(true);
    this.#tellFault(null);
    const stopTelling = this.#tellProgress();
    const { settings } = this;
    let [words, kept] = [null, null];
    try {
      const { measurement_id: id, state } = await this.#api.measure({
        ...settings,
        ...(threshold === null ? {} : { threshold }),
      });
      kept = state.measurements.find((one) => one.id === id);
      words = saidOf(kept);
      if (this.#isOutlinedAs(settings)) {
        this.#shownId = id;
        this.isCountedShown = true;
      } else words = `As it was outlined before: ${words}`; // drawn anew while it was measured
      this.#does.take(state);
    } catch (fault) {
      this.#tellFault(fault);
    } finally {
      stopTelling();
      this.#setRunning(false);
    }
    if (!words) return null;
    this.#does.say(words);
    if (!this.isLive) byId("result").scrollIntoView({ block: "start" });
    return kept;
  }

  #isOutlinedAs({ region, leave_out: leftOut }) {
    return alike(region, this.#does.region()) && alike(leftOut, this.#does.leaveOut());
  }

  draw(state, region) {
    this.#state = state;
    if (!this.shown) this.#shownId = null;
    byId("region-words").textContent = region
      ? `Inside the region, ${areaWords(region, state.scale)}.`
      : "The whole photo, without the scale card.";
    byId("region-clear").hidden = !region;
    byId("smallest").disabled = !state.scale.px_per_mm;
    byId("smallest-hint").textContent = state.scale.px_per_mm
      ? "Leave it empty to let the photo decide." : "Needs a scale.";
    this.#drawResult();
    this.#drawEarlier();
  }

  /** Drawn anew, the button one has just pressed is another element: the focus stays with it. */
  #drawResult() {
    const place = byId("result");
    const held = place.contains(document.activeElement) ? document.activeElement : null;
    this.bySize.showFor(this.shown);
    if (!this.rejected.isShownFor(this.shown)) this.rejected.putDown();
    place.replaceChildren(...this.#result());
    if (held) (held.isConnected ? held : byId(held.id))?.focus({ preventScroll: true });
  }

  #result() {
    const { shown } = this;
    if (this.#isRunning) return [];
    if (!shown) {
      return [make("p", { class: "soft" }, this.#state.measurements.length
        ? "Not measured like this yet."
        : "Nothing measured on this photo yet. Draw a region first if only part of it is the surface.")];
    }
    const isLatest = shown.id === this.#state.measurements[0].id;
    return [
      shown.shows_bench && this.#outlineFirst(shown),
      make("p", { class: "result__name" }, ["Void fraction", shown.of_words && `${shown.of_words} alone`,
        shown.threshold && "threshold set by hand",
        !isLatest && "an earlier measurement"].filter(Boolean).join(", ")),
      make("p", { class: "result__figure figures" }, shown.void_pct_words),
      make("p", { class: "result__interval figures" }, shown.interval_words),
      shown.differs_words && make("p", { class: "result__differs figures" }, shown.differs_words),
      shown.region === null && !shown.shows_bench && this.#outlineFirst(shown),
      make("ul", { class: "result__facts figures" },
        ...[shown.count_words, shown.density_words, shown.largest_words, ...shown.shape_words,
          shown.inspected_words, shown.scale_doubt_words]
          .filter(Boolean).map((words) => make("li", {}, words))),
      shown.sizes.length > 0 && this.#sizes(shown.sizes),
      shown.spread_words && make("p", { class: "result__spread" }, shown.spread_words),
      shown.warnings.length > 0 && make("ul", { class: "result__warnings" },
        ...shown.warnings.map((words) => make("li", {}, make("b", {}, "Mind: "), words))),
      this.#countedControls(),
      this.bySize.element,
      this.isCountedShown && shown.void_fraction > 0 && make("p", { class: "soft" },
        "From far away the smallest voids are drawn larger than they are; come closer for their outlines."),
      shown.has_hatching && make("p", { class: "soft" }, "Hatched over the photo: surface that could not be judged."),
      ...this.rejected.controls(shown),
      make("button", { type: "button", class: "wide", id: "log-finding", onclick: () => this.#does.log(shown) }, "Log it as a finding"),
      make("details", {}, make("summary", {}, "How it was measured"),
        make("p", { class: "soft" }, [momentWords(shown.at), `method version ${shown.version}`,
          shown.settings_words].filter(Boolean).join(" · ")),
        make("a", { class: "panel__turn", href: shown.how_url }, "How the figure is made, step by step")),
    ].filter(Boolean);
  }

  /** How many voids there are of each size. */
  #sizes(rows) {
    const bar = (share) => makeSvg("svg", { class: "sizes__bar", viewBox: "0 0 100 10", preserveAspectRatio: "none", "aria-hidden": "true" },
      makeSvg("rect", { width: Math.round(100 * share), height: 10 }));
    return make("details", { class: "sizes", open: this.#areSizesOpen,
      ontoggle: ({ currentTarget: { open } }) => { this.#areSizesOpen = open; } }, make("summary", {}, "How many of each size"),
      make("table", { class: "figures" },
        make("thead", {}, make("tr", {}, ...["Across", "Voids", ""].map((words) => (
          words ? make("th", { scope: "col" }, words) : make("td", {}))))),
        make("tbody", {}, ...rows.map(({ size_words: size, count_words: count, share }) => make("tr", {},
          make("th", { scope: "row" }, size), make("td", {}, count), make("td", {}, bar(share)))))));
  }

  /** Nothing was outlined: what the bench beside the part does to the figure, and what to do. */
  #outlineFirst({ shows_bench: showsBench, void_fraction: share }) {
    const seen = share > 0 ? "The bench beside the part was probably counted as a void."
      : "More than the part seems to be in view.";
    return make("div", { class: showsBench ? "note note--fault" : "note" },
      make("p", {}, showsBench ? `${seen} This figure stands for no build.`
        : "The whole photo was measured as surface. If bench or background is in view, the figure is not the part's."),
      make("button", { type: "button", class: `result__outline wide${showsBench ? " go" : ""}`,
        onclick: () => this.#does.outline() }, "Outline the part and measure again"));
  }

  #countedControls() {
    const slider = make("input", { type: "range", min: 0.2, max: 1, step: 0.1, value: this.opacity,
      id: "counted-strength", disabled: !this.isCountedShown });
    slider.addEventListener("input", () => {
      this.opacity = Number(slider.value);
      this.dispatchEvent(new Event("strength"));
    });
    return make("div", { class: "result__counted" },
      make("button", { type: "button", id: "counted", "aria-pressed": String(this.isCountedShown),
        onclick: () => this.toggleCounted() }, "Show counted"),
      make("label", { for: "counted-strength" }, "Strength"), slider);
  }

  #drawEarlier() {
    const { measurements } = this.#state;
    const others = measurements.filter(({ id }) => id !== this.#shownId);
    byId("earlier").hidden = others.length === 0;
    byId("earlier-list").replaceChildren(...others.map((one) => make("li", {},
      make("button", { type: "button", class: "wide", onclick: () => this.show(one.id) },
        make("b", { class: "figures" }, one.void_pct_words),
        make("span", { class: "soft" }, [momentWords(one.at), one.id === measurements[0].id ? "the latest" : "superseded"].join(" · "))),
      one.differs_words && make("p", { class: "soft figures" }, one.differs_words))));
  }

  #tellProgress() {
    const place = byId("measure-progress");
    const timers = STAGES.map(([after, words]) => setTimeout(() => {
      place.textContent = words;
    }, after));
    return () => {
      timers.forEach(clearTimeout);
      place.textContent = "";
    };
  }

  #setRunning(isRunning) {
    this.#isRunning = isRunning;
    byId("measure").disabled = isRunning;
    byId("panel").setAttribute("aria-busy", String(isRunning));
    this.dispatchEvent(new Event("running"));
  }

  get isRunning() {
    return this.#isRunning;
  }

  #tellFault(fault) {
    const place = byId("measure-fault");
    place.textContent = fault ? `${fault.what}: ${fault.do}.` : "";
    place.hidden = !fault;
  }
}
