// The threshold under the finger: the counted area and the figures follow while it moves; let go,
// it is measured at full size, and that is the figure of record.
import { byId } from "./dom.js";
import { LiveCanvas } from "./live-canvas.js";
import { LiveFetch } from "./live-fetch.js";
import { figure, plural } from "./words.js";

const NBSP = "\u00a0";
const REST_MS = 900; // keys come one by one; a finger that lifts is done
const AGREED_PP = 0.1; // percentage points
const SLOW_MS = 20; // for one drawing; with what the browser adds, 30 a second are left
const USUAL = 0.3; // where nothing was measured yet

/** `2.43 %`: two decimals, so that a tenth of a point shows. */
const percent = (share) => `${(100 * share).toFixed(2)}${NBSP}%`;

/** How far a pixel is off where it starts to count, as a person reads it. */
export function thresholdWords(threshold, look) {
  const off = look === "bright" ? threshold / (1 - threshold) : threshold;
  return `${figure(100 * off)}${NBSP}% ${look === "bright" ? "brighter" : "darker"} than the surface around it`;
}

/** Whether the live figure was that of record, and if not, why. */
export function agreementWords(live, record, { is_reduced: isReduced, worked_at: workedAt }, hasTilt) {
  const apart = 100 * Math.abs(live - record);
  if (apart <= AGREED_PP) {
    return `Figure of record, at full size: ${percent(record)}. It agrees with what moved under your finger.`;
  }
  const why = isReduced || workedAt < 1 ? "the picture you moved it on is smaller than the photo, and small voids are lost in it"
    : hasTilt ? "the photo is tilted, and the size a void has to have was taken for the middle of it"
      : "the settings changed meanwhile";
  return `Figure of record, at full size: ${percent(record)}, ${figure(apart, 2)} points off the live one: ${why}.`;
}

export class LiveThreshold {
  #panel;
  #does;
  #canvas;
  #fetch;
  #slider = byId("live-threshold");
  #made = null;
  #frame = null;
  #rest = null;
  #byKey = false;
  #isWaiting = false; // moved on while it was being measured
  #fromRecord = false; // the slider is to go where the shown figure is
  isOn = false;

  /** @param does  {say(words), settings(), hasTilt(), makeRoom()} */
  constructor(api, view, panel, does) {
    this.#panel = panel;
    this.#does = does;
    this.#canvas = new LiveCanvas(view);
    this.#fetch = new LiveFetch(api);
    byId("live-open").addEventListener("click", () => this.open());
    byId("live-auto").addEventListener("click", () => this.toAutomatic());
    byId("live-close").addEventListener("click", () => this.close());
    this.#slider.addEventListener("keydown", () => {
      this.#byKey = true;
    });
    this.#slider.addEventListener("pointerdown", () => {
      this.#byKey = false;
    });
    this.#slider.addEventListener("input", () => this.#moved());
    this.#slider.addEventListener("change", () => this.#letGo());
  }

  get step() {
    return Math.round(2 * Number(this.#slider.value));
  }

  async open() {
    this.#show(true);
    this.#fromRecord = true;
    this.#does.makeRoom();
    await this.refresh();
    if (this.isOn) this.#slider.focus({ preventScroll: true });
  }

  close() {
    const hadFocus = byId("live").contains(document.activeElement);
    clearTimeout(this.#rest); // what was not measured yet is dropped
    this.#show(false);
    this.#made = null;
    this.#canvas.take(null);
    if (hadFocus) byId("live-open").focus();
  }

  /** Back to the figure the photo gives by itself: the one there is, or a new one. */
  async toAutomatic() {
    clearTimeout(this.#rest);
    this.#isWaiting = false;
    const found = this.#panel.automatic(this.#does.settings());
    this.close();
    if (found) this.#panel.show(found.id);
    else await this.#panel.measure();
    this.#does.say("Back to the automatic threshold.");
  }

  /** The settings changed: another picture is needed. */
  async refresh() {
    if (!this.isOn) return;
    this.#made = null;
    this.#slider.disabled = true;
    this.#tellState("Evening out the light …");
    try {
      const made = await this.#fetch.get(this.#does.settings());
      if (!made || !this.isOn) return;
      this.#made = made;
    } catch (fault) {
      this.#canvas.take(null);
      this.#tellState(`${fault.what ?? "The picture could not be read"}: ${fault.do ?? "try again"}.`);
      return;
    }
    this.#canvas.take(this.#made);
    if (this.#canvas.drawingMs() > SLOW_MS && this.#fetch.goSmaller()) return void await this.refresh();
    this.#slider.disabled = false;
    this.#tellState("");
    if (this.#fromRecord) this.#slider.value = this.#shownStep() / 2;
    this.#fromRecord = false;
    this.#draw();
  }

  /** Where the figure shown lies: its own threshold, or the step that counts as much. */
  #shownStep() {
    const { shown } = this.#panel;
    const { steps } = this.#made.about;
    if (!shown) return USUAL * steps;
    if (shown.threshold) return Math.round(shown.threshold * steps);
    if (!shown.void_fraction) return USUAL * steps;
    const off = this.#made.figures.share.map((share) => Math.abs(share - shown.void_fraction));
    return off.reduce((best, value, step) => (value < off[best] ? step : best), 2 * Number(this.#slider.min));
  }

  #moved() {
    clearTimeout(this.#rest);
    byId("live-agrees").textContent = "";
    this.#frame ??= requestAnimationFrame(() => {
      this.#frame = null;
      this.#draw();
    });
  }

  #draw() {
    if (!this.#made) return;
    const { about: { look, steps }, figures } = this.#made;
    const { step } = this;
    const words = thresholdWords(step / steps, look);
    const [share, count] = [percent(figures.share[step]), plural(figures.count[step], "void")];
    this.#canvas.draw(step);
    byId("live-words").textContent = words;
    byId("live-share").textContent = share;
    byId("live-count").textContent = count;
    this.#slider.setAttribute("aria-valuetext", `${words}: ${share}, ${count}`);
  }

  #letGo() {
    if (!this.#made) return;
    clearTimeout(this.#rest);
    this.#rest = setTimeout(() => this.#measure(), this.#byKey ? REST_MS : 0);
  }

  /** Ask for the figure of record; moved on meanwhile, the last place counts. */
  async #measure() {
    if (this.#panel.isRunning) {
      this.#isWaiting = true;
      return;
    }
    if (!this.#made) return; // the settings changed, and another picture is on its way
    const { about, figures } = this.#made;
    const { step } = this;
    const kept = await this.#panel.measure({ threshold: step / about.steps });
    if (!kept || !this.isOn) return;
    const words = agreementWords(figures.share[step], kept.void_fraction, about, this.#does.hasTilt());
    byId("live-agrees").textContent = words;
    if (this.#isWaiting) {
      this.#isWaiting = false;
      if (this.step !== step) await this.#measure();
    }
  }

  #tellState(words) {
    byId("live-state").textContent = words;
    byId("live-figures").hidden = Boolean(words);
  }

  #show(isOn) {
    this.isOn = isOn;
    byId("live").hidden = !isOn;
    byId("live-open").hidden = isOn;
    byId("panel").classList.toggle("is-live", isOn);
    byId("live-agrees").textContent = "";
    this.#panel.isLive = isOn;
  }
}
