// On a phone the panel is a drawer over the lower half of the picture; on a desk it is always there.

const NARROW = matchMedia("(max-width: 59.99rem)");

export class Drawer {
  #panel;
  #button;
  #picture;

  constructor(panel, button, picture) {
    this.#picture = picture;
    this.#panel = panel;
    this.#button = button;
  }

  get isNarrow() {
    return NARROW.matches;
  }

  get isOpen() {
    return this.#panel.classList.contains("is-open");
  }

  /** How much of the picture it covers, in pixels of the screen; below the picture lie the tools. */
  get covered() {
    if (!NARROW.matches || !this.isOpen) return 0;
    const top = window.innerHeight - this.#panel.offsetHeight;
    return Math.max(0, this.#picture.getBoundingClientRect().bottom - top);
  }

  /** @param {"marks"|"voids"} part  what to show first */
  open(part) {
    this.#panel.classList.add("is-open");
    this.#button.setAttribute("aria-expanded", "true");
    this.#panel.querySelector(`[data-part=${part}]`).scrollIntoView({ block: "start" });
  }

  /** Whether there was something to close. */
  close() {
    const wasOpen = NARROW.matches && this.isOpen;
    this.#panel.classList.remove("is-open");
    this.#button.setAttribute("aria-expanded", "false");
    if (wasOpen && this.#panel.contains(document.activeElement)) this.#button.focus();
    return wasOpen;
  }

  toggle(part) {
    if (this.isOpen) this.close();
    else this.open(part);
  }
}
