// Points of a chart: one tab stop, arrow keys from point to point, a tip that says the point's name.
// Without this script every point is a plain link, and the numbers stand in the table below.

const KEYS = {
  ArrowRight: (place) => place + 1,
  ArrowUp: (place) => place + 1,
  ArrowLeft: (place) => place - 1,
  ArrowDown: (place) => place - 1,
  Home: () => 0,
  End: (_place, last) => last,
};
const GAP_PX = 10; // between a point and its tip

class Points {
  #stage;
  #tip;
  #dots;
  #shown = null;
  #byTouch = false;
  #wasShown = false;

  /** @param {SVGSVGElement} plot  one drawing of a chart, its points `a.dot` in order */
  constructor(plot) {
    this.#stage = plot.closest(".chart__stage");
    this.#tip = this.#stage.querySelector(".chart__tip");
    this.#dots = [...plot.querySelectorAll("a.dot")];
    this.#makeTabStop(this.#dots.at(-1)); // the newest

    plot.addEventListener("keydown", (event) => this.#key(event));
    plot.addEventListener("focusin", (event) => this.#show(dotOf(event)));
    plot.addEventListener("focusout", () => this.#hide());
    plot.addEventListener("pointerover", (event) => event.pointerType === "mouse" && this.#show(dotOf(event)));
    plot.addEventListener("pointerleave", (event) => event.pointerType === "mouse" && this.#hide());
    plot.addEventListener("pointerdown", (event) => this.#press(event));
    plot.addEventListener("click", (event) => this.#click(event));
  }

  #key(event) {
    if (event.key === "Escape") this.#hide();
    const move = KEYS[event.key];
    const place = this.#dots.indexOf(dotOf(event));
    if (!move || place < 0 || event.ctrlKey || event.altKey || event.metaKey) return;
    event.preventDefault();
    const last = this.#dots.length - 1;
    const next = this.#dots[Math.min(last, Math.max(0, move(place, last)))];
    this.#makeTabStop(next);
    next.focus();
  }

  // A finger covers several points: the first tap names one, the second opens it.
  #press(event) {
    this.#byTouch = event.pointerType === "touch";
    this.#wasShown = this.#shown !== null && this.#shown === dotOf(event);
  }

  #click(event) {
    const dot = dotOf(event);
    if (!dot || !this.#byTouch || this.#wasShown) return;
    event.preventDefault();
    this.#show(dot, " – tap again to open");
  }

  #makeTabStop(dot) {
    for (const other of this.#dots) other.setAttribute("tabindex", other === dot ? "0" : "-1");
  }

  #show(dot, more = "") {
    if (!dot) return;
    this.#shown = dot;
    this.#tip.textContent = dot.getAttribute("aria-label") + more;
    this.#tip.hidden = false;
    const stage = this.#stage.getBoundingClientRect();
    const point = dot.querySelector(".dot__shape").getBoundingClientRect();
    const room = stage.width - this.#tip.offsetWidth;
    const middle = point.left + point.width / 2 - stage.left - this.#tip.offsetWidth / 2;
    const above = point.top - stage.top - this.#tip.offsetHeight - GAP_PX;
    this.#tip.style.left = `${Math.max(0, Math.min(room, middle))}px`;
    this.#tip.style.top = `${above < 0 ? point.bottom - stage.top + GAP_PX : above}px`;
  }

  #hide() {
    this.#shown = null;
    this.#tip.hidden = true;
  }
}

function dotOf(event) {
  return event.target.closest?.("a.dot") ?? null;
}

for (const plot of document.querySelectorAll("[data-chart] .plot")) {
  if (plot.querySelector("a.dot")) new Points(plot);
}
