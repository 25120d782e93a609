// Makes the form for photos send each photo on its own, as soon as it is taken or chosen.

import { isUnsent } from "./queue.js";
import { Sender } from "./sender.js";

class Intake {
  #form;
  #sender;
  #mine = new Set();

  constructor(form, sender, outbox) {
    this.#form = form;
    this.#sender = sender;
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
    this.#part("again")?.addEventListener("click", (event) => {
      event.preventDefault();
      location.reload();
    });
    outbox.addEventListener("outbox", ({ detail }) => this.#show(detail.items));
  }

  #part(name) {
    return this.#form.querySelector(`[data-intake-${name}]`);
  }

  async #take(input) {
    const about = new FormData(this.#form);
    const files = [...input.files];
    input.value = ""; // so that the same photo can be chosen once more
    for (const file of files) {
      this.#mine.add(
        await this.#sender.add({
          build: Number(this.#form.dataset.build),
          action: this.#form.action,
          face: about.get("face"),
          stage: about.get("stage"),
          file,
        }),
      );
    }
    this.#form.dispatchEvent(new CustomEvent("taken", { detail: { face: about.get("face"), count: files.length } }));
    this.#show(this.#sender.items);
  }

  /** The next step is to mark and measure what was just sent, the first of it first. */
  #show(items) {
    const mine = items.filter((item) => this.#mine.has(item));
    const [first, ...others] = mine.filter(({ answer }) => answer);
    this.#part("done").hidden = mine.some(isUnsent) || !first;
    if (!first) return;
    this.#part("open").href = first.answer.url;
    this.#part("open").textContent = others.length ? "Open the first photo" : "Open the photo";
  }
}

const outbox = document.querySelector("[data-outbox]");
const sender = new Sender(outbox);
for (const form of document.querySelectorAll("form[data-intake]")) new Intake(form, sender, outbox);
