// One photo of the outbox as a line of the list.

import { stateWords } from "./words.js";

export class Row {
  #thumb;
  #name;
  #about;
  #progress;
  #state;
  #again;
  #away;

  /**
   * @param {HTMLTemplateElement} template
   * @param {object} item
   * @param {{build: ?number, again: () => void, away: () => void}} parts
   *   the build is named where the page is not its own; `away` throws the photo away
   */
  constructor(template, item, { build, again, away }) {
    this.element = template.content.firstElementChild.cloneNode(true);
    const part = (name) => this.element.querySelector(`[data-row-${name}]`);
    this.#thumb = part("thumb");
    this.#name = part("name");
    this.#about = part("about");
    this.#progress = part("progress");
    this.#state = part("state");
    this.#again = part("again");
    this.#away = part("away");
    this.#name.textContent = item.file.name;
    this.#about.textContent = [build && `Build ${build}`, item.face, item.stage].filter(Boolean).join(", ");
    this.#progress.setAttribute("aria-label", `${item.file.name}, how much is sent`);
    this.#again.setAttribute("aria-label", `Try again: ${item.file.name}`);
    this.#away.setAttribute("aria-label", `Throw away: ${item.file.name}`);
    this.#again.addEventListener("click", again);
    this.#away.addEventListener("click", away);
  }

  show(item) {
    const isSaved = item.state === "saved" || item.state === "known";
    this.element.dataset.state = item.state;
    this.#progress.value = item.share;
    this.#progress.hidden = item.state !== "sending";
    this.#state.textContent = stateWords(item);
    this.#again.hidden = item.state !== "refused" && item.state !== "away";
    this.#away.hidden = item.state !== "refused";
    if (!isSaved) return;
    this.#name.href = item.answer.url;
    this.#thumb.src = item.answer.thumb_url;
    this.#thumb.hidden = false;
  }
}
