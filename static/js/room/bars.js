// The bars over the picture: what is being drawn, and what can be done with the mark in the hand.
import { byId } from "./dom.js";
import { plural, sizeWords } from "./words.js";

const TOOL_BUTTONS = () => document.querySelectorAll("[data-tool]");

/** Show which tool is in the hand, what it has drawn, and how big that is. */
export function drawHand(hand, scale) {
  for (const button of TOOL_BUTTONS()) {
    button.setAttribute("aria-pressed", String(button.dataset.tool === hand.name));
  }
  byId("room").dataset.hand = hand.name;
  byId("draw-bar").hidden = hand.isEmpty || hand.isTracing;
  byId("draw-aim").setAttribute("aria-pressed", String(hand.isAiming));
  byId("draw-place").hidden = !hand.isAiming;
  byId("draw-back").hidden = !hand.hasDrawn || hand.name === "spot";
  byId("draw-done").hidden = !hand.canFinish;
  byId("draw-drop").textContent = hand.hasDrawn ? "Discard" : "Stop";
  const drawing = hand.drawing;
  const words = drawing && hand.name !== "ruler" ? sizeWords(drawing.shape, drawing.points, scale) : "";
  tellSize(words && !scale.px_per_mm ? `${words}, no scale yet` : words);
}

/** The live size, at the top where no hand covers it. */
export function tellSize(words) {
  const readout = byId("readout");
  readout.textContent = words;
  readout.hidden = !words;
}

/** What can be done with the mark or the region in the hand. */
export function drawMarkBar(mark, { finding, isRegionHeld, handles, isDrawing }) {
  const bar = byId("mark-bar");
  bar.hidden = isDrawing || (!mark && !isRegionHeld);
  if (bar.hidden) return;
  const isClosed = Boolean(finding) && !finding.is_open;
  const told = mark ? [mark.code, mark.size_words, isClosed && `finding ${finding.id} closed`] : ["Region"];
  byId("mark-name").textContent = told.filter(Boolean).join(" · ");
  byId("mark-kind").hidden = isRegionHeld || isClosed;
  byId("mark-delete").hidden = isClosed;
  byId("mark-why").hidden = !finding;
  if (finding) byId("mark-why").href = finding.url;
  byId("mark-corner").hidden = !handles.canRemoveCorner;
}

export function drawUndo(marks) {
  byId("undo").disabled = !marks.canUndo;
  byId("redo").disabled = !marks.canRedo;
  const { unsent } = marks;
  const waiting = unsent.filter(({ fault }) => fault).length;
  byId("unsent").hidden = waiting === 0;
  byId("unsent-words").textContent = `${plural(waiting, "mark")} not saved yet, kept on this device.`;
}

/** A fault that stops nothing: told once, with a way to try again. */
export class FaultBar {
  #bar = byId("fault");
  #retry = null;
  #about = null;

  constructor() {
    byId("fault-close").addEventListener("click", () => this.clear());
    byId("fault-again").addEventListener("click", () => {
      const retry = this.#retry;
      this.clear();
      retry?.();
    });
  }

  /** `about` is the id of the unsent mark it speaks of, if it speaks of one. */
  tell(fault, retry, about = null) {
    this.#retry = retry;
    this.#about = about;
    byId("fault-words").textContent = fault.what
      ? `${fault.what}: ${fault.do}.` : "Something broke in this page: load it again.";
    byId("fault-again").hidden = !retry;
    this.#bar.hidden = false;
  }

  /** What it spoke of was sent or thrown away since: nothing to tell any more. */
  settle(unsent) {
    const isOpen = unsent.some(({ id, fault }) => id === this.#about && fault);
    if (this.#about !== null && !isOpen) this.clear();
  }

  clear() {
    this.#about = null;
    this.#bar.hidden = true;
    byId("fault-words").textContent = "";
  }
}
