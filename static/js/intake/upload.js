// Makes the form for photos send each photo on its own, as soon as it is taken or chosen.

import { UploadQueue } from "./queue.js";
import { sendPhoto } from "./send.js";
import { stateWords, summaryWords } from "./words.js";

class Row {
  #element;
  #thumb;
  #name;
  #progress;
  #state;
  #again;

  constructor(template, item, tryAgain) {
    this.#element = template.content.firstElementChild.cloneNode(true);
    this.#thumb = this.#element.querySelector("img");
    this.#name = this.#element.querySelector("a");
    this.#progress = this.#element.querySelector("progress");
    this.#state = this.#element.querySelector("span");
    this.#again = this.#element.querySelector("button");
    this.#name.textContent = item.file.name;
    this.#progress.setAttribute("aria-label", `${item.file.name}, how much is sent`);
    this.#again.setAttribute("aria-label", `Try again: ${item.file.name}`);
    this.#again.addEventListener("click", tryAgain);
  }

  get element() {
    return this.#element;
  }

  show(item) {
    const isSaved = item.state === "saved" || item.state === "known";
    this.#element.dataset.state = item.state;
    this.#progress.value = item.share;
    this.#progress.hidden = item.state !== "sending";
    this.#state.textContent = stateWords(item);
    this.#again.hidden = item.state !== "refused" && item.state !== "away";
    if (!isSaved) return;
    this.#name.href = item.answer.url;
    this.#thumb.src = item.answer.thumb_url;
    this.#thumb.hidden = false;
  }
}

class Intake {
  #form;
  #queue;
  #rows = new Map();

  constructor(form) {
    this.#form = form;
    this.#queue = new UploadQueue({ send: sendPhoto, changed: (item) => this.#show(item) });
    this.#part("plain").hidden = true;
    this.#part("live").hidden = false;
    for (const input of form.querySelectorAll("input[type=file]")) {
      input.addEventListener("change", () => this.#take(input));
    }
    for (const button of form.querySelectorAll("[data-intake-opens]")) {
      const input = document.getElementById(button.dataset.intakeOpens);
      button.addEventListener("click", () => input.click());
    }
    form.addEventListener("submit", (event) => event.preventDefault());
    // A link to this very page, at its photos, would only scroll: load it anew.
    this.#part("again").addEventListener("click", (event) => {
      event.preventDefault();
      location.reload();
    });
    window.addEventListener("online", () => this.#queue.wake());
    document.addEventListener("visibilitychange", () => {
      if (!document.hidden) this.#queue.wake();
    });
    window.addEventListener("beforeunload", (event) => {
      if (this.#queue.unsent) event.preventDefault();
    });
  }

  #part(name) {
    return this.#form.querySelector(`[data-intake-${name}]`);
  }

  #take(input) {
    const about = new FormData(this.#form);
    for (const file of input.files) {
      this.#queue.add({
        file,
        action: this.#form.action,
        token: about.get("csrf_token"),
        face: about.get("face"),
        stage: about.get("stage"),
      });
    }
    input.value = ""; // so that the same photo can be chosen once more
  }

  #show(item) {
    let row = this.#rows.get(item);
    if (!row) {
      row = new Row(this.#part("row"), item, () => this.#queue.again(item));
      this.#rows.set(item, row);
      this.#part("list").append(row.element);
      this.#part("sent").hidden = false;
    }
    row.show(item);
    const { items, saved, unsent } = this.#queue;
    const words = summaryWords({ saved, unsent, refused: items.length - saved - unsent });
    // Set only when it changes, or a screen reader says it again with every step of progress.
    if (this.#part("said").textContent !== words) this.#part("said").textContent = words;
    this.#part("done").hidden = unsent > 0 || saved === 0;
    this.#showWay(items.filter(({ answer }) => answer));
  }

  /** The next step is to mark and measure what was just sent, the first of it first. */
  #showWay([first, ...others]) {
    if (!first) return;
    this.#part("open").href = first.answer.url;
    this.#part("open").textContent = others.length ? "Open the first photo" : "Open the photo";
  }
}

for (const form of document.querySelectorAll("form[data-intake]")) new Intake(form);
