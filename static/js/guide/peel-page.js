// The working figure of the peel-ply page: sliders turn the section, move the dots, rewrite the
// numbers. Without this script the form asks the server for the same figure.
import { arm, figure, peelLoad, place } from "./peel.js";

const NBSP = "\u00a0";
const newton = (value) => `${figure(value)}${NBSP}N`;

class PeelFigure {
  #form;
  #least;
  #most;

  /** @param {HTMLFormElement} form  holds pictures, sliders and numbers */
  constructor(form) {
    this.#form = form;
    this.#least = Number(form.dataset.least);
    this.#most = Number(form.dataset.most);
    this.#one("[data-show]").hidden = true;
    form.addEventListener("input", () => this.#show());
    // Told once the slider is let go, not at every step of it.
    form.addEventListener("change", () => (this.#one("[data-says]").textContent = this.#says()));
    form.addEventListener("submit", (event) => event.preventDefault());
    this.#show();
  }

  #one(selector) {
    return this.#form.querySelector(selector);
  }

  #set(name) {
    return Number(this.#form.elements[name].value);
  }

  #load(energy = this.#set("energy"), angle = this.#set("angle")) {
    return peelLoad(energy, this.#set("width"), angle);
  }

  #says() {
    const { pull, lift } = this.#load();
    return `Pull ${newton(pull)}, of which ${newton(lift)} lift the ply.`;
  }

  #show() {
    this.#draw(this.#set("angle"));
    this.#write();
    const fold = this.#set("angle") >= 150 ? "fold" : this.#set("angle") >= 60 ? "mid" : "low";
    for (const words of this.#form.querySelectorAll("[data-fold]")) words.hidden = words.dataset.fold !== fold;
  }

  #draw(angle) {
    const turned = arm(angle);
    this.#one("[data-arm]").setAttribute("d", turned.path);
    this.#one("[data-hand]").setAttribute("cx", turned.end[0].toFixed(1));
    this.#one("[data-hand]").setAttribute("cy", turned.end[1].toFixed(1));
    this.#one("[data-lift-line]").setAttribute("d", `M180 150V${turned.liftY.toFixed(1)}m-5 7l5-7l5 7`);
    this.#one("[data-lift-arrow]").setAttribute("visibility", turned.liftY > 146 ? "hidden" : "visible");
    const { pull, lift } = peelLoad(1000, 1, angle);
    const [x, pullY] = place(angle, pull);
    const [, liftY] = place(angle, lift);
    this.#one("[data-pull-dot]").setAttribute("cx", x.toFixed(1));
    this.#one("[data-pull-dot]").setAttribute("cy", pullY.toFixed(1));
    this.#one("[data-lift-dot]").setAttribute("x", (x - 6).toFixed(1));
    this.#one("[data-lift-dot]").setAttribute("y", (liftY - 6).toFixed(1));
  }

  #write() {
    const { pull, lift } = this.#load();
    const least = this.#load(this.#least);
    const most = this.#load(this.#most);
    const metres = this.#set("width") / 1000;
    const write = (selector, words) => (this.#one(selector).textContent = words);
    write("[data-pull]", newton(pull));
    write("[data-lift]", newton(lift));
    write("[data-pull-between]", `${figure(least.pull)} to ${newton(most.pull)}`);
    write("[data-lift-between]", `${figure(least.lift)} to ${newton(most.lift)}`);
    write("[data-per-metre]", `${figure(pull / metres)} and ${figure(lift / metres)}${NBSP}N/m`);
    for (const output of this.#form.querySelectorAll("output")) {
      const slider = document.getElementById(output.htmlFor.value);
      const { unit } = output.dataset;
      output.textContent = `${slider.value}${unit === "°" ? "" : NBSP}${unit}`;
    }
    for (const tick of this.#form.querySelectorAll("[data-tick]")) {
      tick.textContent = figure(Number(tick.dataset.tick) * this.#set("energy") * metres);
    }
    for (const row of document.querySelectorAll("[data-stated]")) {
      const stated = this.#load(this.#set("energy"), Number(row.dataset.stated));
      [row.cells[1].textContent, row.cells[2].textContent] = [newton(stated.pull), newton(stated.lift)];
    }
  }
}

for (const form of document.querySelectorAll("[data-peel]")) new PeelFigure(form);
