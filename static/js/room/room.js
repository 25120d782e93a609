// The photo room in one piece: who tells whom, and what is drawn anew when something changes.
import { FaultBar, drawHand, drawMarkBar, drawUndo, tellSize } from "./bars.js";
import { crossesItself } from "./crossing.js";
import { drawDetails } from "./details-sheet.js";
import { byId } from "./dom.js";
import { boundsOf, markAt, pathOf } from "./geometry.js";
import { askKind } from "./sheets.js";
import { sizeWords } from "./words.js";

const FINGER_PX = 24; // how far from a line a tap still means it
const ON_IT_PX = 8;
const SAID_MS = 7000;
const SHEET_SHARE = 0.62; // of the height of a phone that a sheet may cover

const isClosed = (finding) => Boolean(finding) && !finding.is_open;

const closedWords = ({ id, outcome }) => (
  `Finding ${id} is closed (${outcome}), its marks stay as they are: open it again on its page first.`);

export class Room {
  #live = null; // {id, points} while a handle is dragged
  #saying = null;
  #hint = "";
  #fault = new FaultBar();
  #parts;

  /** @param parts  {view, overlay, marks, hand, handles, region, panel, list, scaleSheet, drawer, patternOf, leaveOut} */
  constructor(parts) {
    this.#parts = parts;
    const { view, marks, hand, region, panel, leaveOut } = parts;
    view.addEventListener("tap", ({ detail }) => this.#tapped(detail.point));
    hand.addEventListener("taken", ({ detail }) => this.#taken(detail));
    hand.addEventListener("placed", ({ detail }) => this.#placed(detail.corners));
    hand.addEventListener("drawn", ({ detail }) => this.#drawn(detail));
    hand.addEventListener("change", () => this.drawPicture());
    marks.addEventListener("change", () => this.draw());
    marks.addEventListener("said", ({ detail }) => this.say(detail.words));
    marks.addEventListener("fault", ({ detail }) => (
      this.#fault.tell(detail.fault, detail.retry, detail.about)));
    // Figures of one region do not stand beside another; those of the same come back.
    const isOfIt = (one) => region.is(one.region) && leaveOut.is(one.leave_out);
    region.addEventListener("change", () => {
      if (!panel.shown || !region.is(panel.shown.region)) panel.showAlike(isOfIt);
      this.draw();
    });
    leaveOut.addEventListener("change", () => {
      if (!panel.shown || !leaveOut.is(panel.shown.leave_out)) panel.showAlike(isOfIt);
      this.draw();
    });
    panel.addEventListener("change", () => this.draw());
    panel.addEventListener("shown", () => {
      const { region: outline, leave_out: outlines } = panel.shown;
      if (!leaveOut.is(outlines)) leaveOut.set(outlines);
      region.set(outline);
    });
    panel.addEventListener("strength", () => this.drawPicture());
    panel.addEventListener("running", () => this.draw());
    parts.suggestions.addEventListener("change", () => this.drawPicture());
  }

  get state() {
    return this.#parts.marks.state;
  }

  take = (state) => this.#parts.marks.take(state);

  /** Say something, on the screen and to a screen reader, for a while; what stays is unsaid. */
  say = (words, { stays = false } = {}) => {
    clearTimeout(this.#saying);
    this.#tell(words);
    if (!stays) this.#saying = setTimeout(this.unsay, SAID_MS);
  };

  unsay = () => {
    clearTimeout(this.#saying);
    this.#tell(this.#hint);
  };

  draw() {
    const { marks, list, panel, region, scaleSheet, suggestions } = this.#parts;
    const { all, selectedId, unsent, state } = marks;
    list.draw({ all, selectedId, unsent, state });
    panel.draw(state, region.points);
    this.#parts.leaveOut.draw(state.scale);
    scaleSheet.draw(state);
    drawUndo(marks);
    this.#fault.settle(unsent);
    drawDetails(state);
    const { shown } = panel;
    suggestions.showFor(shown);
    byId("go-measure").toggleAttribute("data-measures", !shown);
    byId("go-measure").textContent = shown ? `Voids ${shown.void_pct_words}` : "Measure voids";
    this.drawPicture();
  }

  /** Only what lies over the picture; called for every move of a finger. */
  drawPicture() {
    const { overlay, marks, hand, handles, region, panel, suggestions } = this.#parts;
    const { scale } = this.state;
    const isDrawing = !hand.isEmpty;
    const points = this.#live?.id === "region" ? this.#live.points : region.points;
    const isRegionHeld = region.isHeld && Boolean(region.points);
    overlay.draw({
      marks: this.#marksNow(),
      selectedId: marks.selectedId,
      drawing: hand.drawing,
      region: points,
      isDimmed: isRegionHeld || panel.isRunning || Boolean(panel.counted) || hand.name === "region",
      cards: scale.card_outlines,
      leftOut: this.#parts.leaveOut.outlines,
      scalePoints: hand.name === "ruler" ? scale.points : null,
      counted: ["region", "leave-out"].includes(hand.name) ? null : panel.counted,
      suggested: isDrawing || panel.isLive ? [] : suggestions.outlines,
      rejected: panel.rejected.spotsOf(panel.shown),
      chosen: panel.rejected.chosen,
      told: panel.isLive ? null : panel.bySize.chosen,
    });
    const { selected } = marks;
    const held = selected ?? (isRegionHeld ? { id: "region", shape: "outline", points: region.points } : null);
    const finding = this.#findingOf(selected);
    handles.show(isDrawing || isClosed(finding) ? null : held);
    drawMarkBar(selected, { finding, isRegionHeld: !selected && isRegionHeld, handles, isDrawing });
    byId("mark-delete").textContent = selected ? "Delete" : "Clear region";
    if (!this.#live) drawHand(hand, scale);
  }

  /** A handle moves: show it at once, save it when it is let go. */
  reshaping(points) {
    const { marks, region } = this.#parts;
    const mark = marks.selected;
    this.#live = { id: mark ? mark.id : "region", points };
    tellSize(sizeWords(mark?.shape ?? "outline", points, this.state.scale));
    if (mark || region.isHeld) this.drawPicture();
  }

  reshaped(points, id) {
    this.#live = null;
    tellSize("");
    const shape = this.state.marks.find((mark) => mark.id === id)?.shape ?? "outline";
    if (shape === "outline" && points.length > 3 && crossesItself(points)) {
      this.say("There the outline would cross itself: the corner is back where it was.");
      this.draw();
      return;
    }
    if (id === "region") this.#parts.region.set(points);
    else this.#parts.marks.reshape(id, points);
  }

  select(id) {
    const { marks, region, hand, view, drawer, panel } = this.#parts;
    if (!hand.isEmpty) hand.take("look");
    panel.putDown();
    region.hold(false);
    marks.select(id);
    const mark = marks.selected;
    if (mark) view.reveal(boundsOf(pathOf(mark.shape, mark.points).points), drawer.covered);
  }

  putDown() {
    this.#parts.marks.select(null);
    this.#parts.region.hold(false);
  }

  /** Delete the mark in the hand, or clear the region. */
  remove() {
    const { marks, region } = this.#parts;
    if (isClosed(this.#findingOf(marks.selected))) this.say(closedWords(this.#findingOf(marks.selected)));
    else if (marks.selected) marks.remove(marks.selectedId);
    else if (region.isHeld) region.set(null);
    else return false;
    return true;
  }

  async changeKind() {
    const { marks } = this.#parts;
    const mark = marks.selected;
    if (!mark) return;
    if (isClosed(this.#findingOf(mark))) return void this.say(closedWords(this.#findingOf(mark)));
    const choice = await this.#ask("What is it really?", mark.size_words,
      { canDrop: false, of: mark });
    if (choice) marks.rename(mark.id, choice);
  }

  /** Which kind a suggestion of the measurement really is. */
  askKindOf(one) {
    return this.#ask("What is it really?", `${one.title}? ${one.words}`, { canDrop: false, signs: { measured: one.measured } });
  }

  /** Log what was measured as a mark of a kind: the region, or the whole photo. */
  async log({ region, count_words: count, void_pct_words: share }) {
    const { marks } = this.#parts;
    const { width_px: width, height_px: height } = this.state.photo;
    const choice = await this.#ask("Log it as what?", `${count}, void fraction ${share}`, { canDrop: false });
    if (!choice) return;
    marks.add(region ? { shape: "outline", points: region }
      : { shape: "box", points: [[0, 0], [width, height]] }, choice);
  }

  /** To the next mark (1) or the previous one (-1). */
  step(by) {
    const { all, selectedId } = this.#parts.marks;
    if (!all.length) return;
    const at = all.findIndex(({ id }) => id === selectedId);
    const next = all[at < 0 ? (by > 0 ? 0 : all.length - 1) : (at + by + all.length) % all.length];
    this.select(next.id);
    this.say(`${next.code}, ${next.size_words || next.shape}, mark ${all.indexOf(next) + 1} of ${all.length}.`);
  }

  #findingOf(mark) {
    return (mark && this.state.findings.find(({ id }) => id === mark.finding_id)) ?? null;
  }

  #marksNow() {
    const { marks, patternOf } = this.#parts;
    return marks.all.map((mark) => ({ ...mark, pattern: patternOf(mark.family),
      points: this.#live?.id === mark.id ? this.#live.points : mark.points }));
  }

  #tapped(point) {
    const { hand, marks, overlay, panel, region, view } = this.#parts;
    if (!hand.isEmpty) return;
    const reach = FINGER_PX / view.scale;
    const chip = overlay.chipAt(view.toScreen(point));
    const turned = chip === null ? panel.rejected.at(panel.shown, point, reach) : null;
    if (turned !== null) {
      this.putDown();
      panel.rejected.choose(panel.shown, turned);
      return;
    }
    panel.putDown();
    const id = chip ?? markAt(point, marks.all, reach)?.id ?? null;
    const isRegion = id === null && region.points
      && markAt(point, [{ shape: "line", points: [...region.points, region.points[0]] }], reach);
    region.hold(Boolean(isRegion));
    marks.select(id);
    // Where a mark is meant as well, only what lies right under the finger is told.
    if (chip === null && !isRegion) panel.tellVoid(point, id === null ? reach : ON_IT_PX / view.scale);
  }

  #taken({ name, hint }) {
    this.#hint = hint;
    this.#parts.panel.putDown();
    this.unsay();
    if (name !== "look") this.putDown();
    if (name !== "look") this.#parts.drawer.close();
  }

  /** For those who draw by keys and listen: how many corners, how big. */
  #placed(corners) {
    const { hand } = this.#parts;
    const { shape, points } = hand.drawing;
    this.say([`Corner ${corners} placed.`, sizeWords(shape, points, this.state.scale)].join(" "));
  }

  async #drawn({ name, shape, points, pointing_px: offPx }) {
    const { drawer, hand, marks, region, scaleSheet, view } = this.#parts;
    if (shape === "outline" && crossesItself(points)) {
      this.say("The outline crosses itself: take corners back until it does not, or discard it.");
      return;
    }
    if (name === "region") {
      region.set(points);
      hand.take("look");
      this.say("Region set. Only the surface inside it will be measured.");
      return;
    }
    if (name === "leave-out") {
      this.#parts.leaveOut.add(points);
      hand.take("look");
      if (drawer.isNarrow) drawer.open("voids");
      this.say("Left out: nothing inside it is inspected or counted.");
      return;
    }
    if (name === "ruler") {
      await scaleSheet.askLength(points, offPx);
      return;
    }
    const putBack = drawer.isNarrow
      ? view.reveal(boundsOf(points), window.innerHeight * SHEET_SHARE) : () => {};
    const size = sizeWords(shape, points, this.state.scale);
    const choice = await this.#ask("What is it?", size, { canDrop: true, signs: { mark: shape } });
    putBack();
    if (choice === null) return; // still drawn: Done asks again, Discard throws it away
    hand.drop();
    if (choice === "drop") this.say("Discarded.");
    else marks.add({ shape, points }, choice);
  }

  /** Ask for a kind or a finding; `of` is the mark that has one already. */
  #ask(title, size, { canDrop, of = null, signs = { mark: of?.shape } }) {
    const { kinds, findings } = this.state;
    return askKind({ title, size, canDrop, signs, pattern: this.#parts.patternOf,
      kindsTitle: of?.finding_id ? `Another kind for finding ${of.finding_id}` : "A new finding",
      kinds: kinds.filter(({ key }) => key !== of?.kind),
      findings: findings.filter(({ id }) => id !== of?.finding_id) });
  }

  #tell(words) {
    byId("hint").textContent = words;
  }
}
