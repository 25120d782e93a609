// The marks as a list of buttons beside the photo: the way to them for eyes, keys and screen readers.
import { chip, make } from "./dom.js";
import { plural } from "./words.js";

const SHAPES = { point: "spot", line: "line", outline: "outline", box: "box" };

export class MarkList {
  #list;
  #counts;
  #does;

  /** @param does  {select(id), retry(id), forget(id), pattern(family)} */
  constructor(list, counts, does) {
    this.#list = list;
    this.#counts = counts;
    this.#does = does;
  }

  draw({ all, selectedId, unsent, state }) {
    const held = document.activeElement?.closest?.("[data-mark]")?.dataset.mark;
    for (const count of this.#counts) count.textContent = plural(all.length, "mark");
    this.#list.replaceChildren(...all.map((mark) => this.#row(mark, {
      finding: state.findings.find(({ id }) => id === mark.finding_id),
      kind: state.kinds.find(({ key }) => key === mark.kind),
      isSelected: mark.id === selectedId,
      job: unsent.find(({ id, markId, fault }) => fault && (id === mark.id || markId === mark.id)),
    })));
    if (held) this.#list.querySelector(`[data-mark="${CSS.escape(held)}"]`)?.focus();
  }

  #row(mark, { finding, kind, isSelected, job }) {
    const title = finding?.title ?? kind?.title ?? mark.kind;
    const size = mark.size_words || SHAPES[mark.shape];
    return make("li", { class: job ? "mark-row is-unsent" : "mark-row" },
      make("button", { type: "button", class: "mark-row__mark", "data-mark": mark.id,
        "aria-pressed": String(isSelected), onclick: () => this.#does.select(mark.id) },
      chip(mark.code, this.#does.pattern(mark.family)),
      make("span", { class: "mark-row__title" }, title),
      make("span", { class: "mark-row__size figures" }, size)),
      finding?.url && make("a", { class: "mark-row__link", href: finding.url,
        "aria-label": `Why: finding ${finding.id}, ${title}` }, "Why?"),
      job && this.#unsent(job));
  }

  #unsent({ id, fault }) {
    return make("div", { class: "mark-row__unsent" },
      make("p", {}, `Not saved. ${fault.what}: ${fault.do}.`),
      make("button", { type: "button", onclick: () => this.#does.retry(id) }, "Try again"),
      make("button", { type: "button", class: "quiet", onclick: () => this.#does.forget(id) },
        "Throw away"));
  }
}
