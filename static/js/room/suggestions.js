// What a measurement suggests to mark: dashed over the photo, and a list with one tap for each
// answer. Nothing is marked before a person has said so.
import { byId, chip, make } from "./dom.js";

/** @fires change  another list, or another one is looked at */
export class Suggestions extends EventTarget {
  #api;
  #does;
  #storage;
  #kept = new Map(); // by the id of their measurement
  #measurement = null;
  #looked = null;

  /** @param does  {say(words), accept(suggestion, kind), askKind(suggestion), pattern(kind)} */
  constructor(api, storage, does) {
    super();
    this.#api = api;
    this.#storage = storage;
    this.#does = does;
  }

  /** Those of the measurement that is shown; called with every change of it. */
  async showFor(measurement) {
    if (this.#measurement?.id === measurement?.id) return;
    this.#measurement = measurement;
    this.#looked = null;
    this.#draw();
    if (!measurement || this.#kept.has(measurement.id)) return;
    try {
      this.#kept.set(measurement.id, (await this.#api.suggestions(measurement.id)).suggestions);
    } catch {
      return; // they are a help, not a record: without them the photo is marked by hand
    }
    this.#draw();
  }

  get open() {
    const all = this.#kept.get(this.#measurement?.id) ?? [];
    return all.filter(({ client_id: id }) => !this.#dismissed.includes(id));
  }

  /** To be drawn over the photo. */
  get outlines() {
    return this.open.map(({ client_id: id, code, shape, points }) => (
      { code, shape, points, isLooked: id === this.#looked }));
  }

  get #dismissed() {
    try {
      return JSON.parse(this.#storage?.getItem(this.#key) ?? "[]");
    } catch {
      return [];
    }
  }

  get #key() {
    return `defectlog.dismissed.${this.#measurement?.id}`;
  }

  #draw() {
    const place = byId("suggested");
    const { open } = this;
    place.hidden = open.length === 0;
    byId("suggested-list").replaceChildren(...open.map((one) => this.#row(one)));
    this.dispatchEvent(new Event("change"));
  }

  #row(one) {
    const about = `${one.title}, ${one.words}`;
    const look = () => {
      if (this.#looked === one.client_id) return;
      this.#looked = one.client_id;
      this.dispatchEvent(new Event("change"));
    };
    return make("li", { class: "suggested__row", onpointerenter: look, onfocusin: look },
      make("p", { class: "suggested__what" }, chip(one.code, this.#does.pattern(one.kind)), " ", make("b", {}, one.title), " ",
        make("span", { class: "soft figures" },
          one.finding_id ? `${one.words}; joins finding ${one.finding_id}` : one.words)),
      make("div", { class: "row" },
        make("button", { type: "button", class: "go", "aria-label": `Accept: ${about}`,
          onclick: () => this.#accept(one, one.finding_id ? { finding_id: one.finding_id } : { kind: one.kind }) }, "Accept"),
        make("button", { type: "button", "aria-label": `Another kind: ${about}`,
          onclick: () => this.#rename(one) }, "Another kind"),
        make("button", { type: "button", class: "quiet", "aria-label": `Dismiss: ${about}`,
          onclick: () => this.#dismiss(one) }, "Dismiss")));
  }

  async #rename(one) {
    const choice = await this.#does.askKind(one);
    if (choice) this.#accept(one, choice);
  }

  #accept(one, choice) {
    this.#does.accept(one, choice);
    this.#drop(one);
  }

  #dismiss(one) {
    try {
      this.#storage?.setItem(this.#key, JSON.stringify([...this.#dismissed, one.client_id]));
    } catch {
      // No room to remember it: it is gone from this page all the same.
    }
    this.#drop(one);
    this.#does.say("Dismissed: nothing was marked.");
  }

  #drop({ client_id: id }) {
    const left = this.open.filter((other) => other.client_id !== id);
    this.#kept.set(this.#measurement.id, left);
    this.#draw();
    byId("suggested-list").querySelector("button")?.focus();
  }
}
