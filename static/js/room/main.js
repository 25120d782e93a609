// Entry of the photo room: makes the parts, joins them, and listens to buttons and keys.
import { Aim } from "./aim.js";
import { RoomApi } from "./api.js";
import { listenForDetails } from "./details-sheet.js";
import { byId } from "./dom.js";
import { Draft } from "./draft.js";
import { Drawer } from "./drawer.js";
import { Hand } from "./hand.js";
import { Handles } from "./handles.js";
import { Keys, localStorageOrNull } from "./keys.js";
import { Loupe } from "./loupe.js";
import { LeaveOut } from "./leave-out.js";
import { LiveThreshold } from "./live-threshold.js";
import { MarkList } from "./mark-list.js";
import { Marks } from "./marks.js";
import { MeasurePanel } from "./measure-panel.js";
import { Overlay } from "./overlay.js";
import { patternsOf } from "./patterns.js";
import { Region } from "./region.js";
import { Room } from "./room.js";
import { ScaleSheet } from "./scale-sheet.js";
import { listenForSheets, openSheet } from "./sheets.js";
import { Suggestions } from "./suggestions.js";
import { View } from "./view.js";

const PAN_PX = { ArrowLeft: [80, 0], ArrowRight: [-80, 0], ArrowUp: [0, 80], ArrowDown: [0, -80] };
const RETRY_MS = 20_000; // the Wi-Fi of a workshop comes back without telling the browser
const ZOOMS = { "+": true, "=": true, "-": false, _: false };

const element = byId("room");
const state = JSON.parse(byId("room-state").textContent);
const token = document.querySelector("meta[name=csrf-token]")?.content ?? "";
const isCalm = matchMedia("(prefers-reduced-motion: reduce)").matches;
const storage = localStorageOrNull();
const { photo } = state;
const looksOnly = element.hasAttribute("data-looks-only"); // a device let in to look

const api = new RoomApi(element.dataset.url, token);
const view = new View(byId("picture"), photo, { isCalm });
const marks = new Marks(api, state, storage);
const hand = new Hand(view, new Aim(view, byId("aim")), photo);
const region = new Region(photo.id, storage, state.measurements[0]?.region ?? null);
const leaveOut = new LeaveOut(photo.id, storage, state.measurements[0]?.leave_out);
const loupe = new Loupe(view, byId("loupe"));
const draft = new Draft(photo.id, storage);
const drawer = new Drawer(byId("panel"), byId("open-marks"), byId("picture"));
const patternOf = patternsOf(state.kinds);

// The parts speak to the room, and the room is made of them; so they reach it through this name.
let room = null;
const take = (fresh) => room.take(fresh);
const say = (words, how) => room.say(words, how);

const handles = new Handles(byId("handles"), view, photo, {
  changed: (points) => room.reshaping(points),
  done: (points, id) => room.reshaped(points, id),
  picked: () => {
    byId("mark-corner").hidden = !handles.canRemoveCorner;
  },
  under: (at, path) => loupe.show(at, [path]),
  lifted: () => loupe.hide(),
});
const panel = new MeasurePanel(api, {
  // A mark may have been saved meanwhile: only the measurements of this answer are news, and the
  // scale they were made by, which somebody may have set elsewhere.
  take: ({ measurements, scale }) => take({ ...marks.state, measurements, scale }),
  say,
  unsay: () => room.unsay(),
  region: () => region.points,
  leaveOut: () => leaveOut.outlines,
  outline: () => hand.take("region"),
  log: (one) => room.log(one),
  // What is said of the spot stands at the top of the picture and must not lie on it.
  reveal: ({ x, y }) => view.reveal({ left: x, right: x, top: y, bottom: y }, drawer.covered,
    24 + document.querySelector(".stage__top").offsetHeight),
});
const scaleSheet = new ScaleSheet(api, {
  take, say, pointOut: () => hand.take("ruler"), putDown: () => hand.take("look") });
const list = new MarkList(byId("mark-list"), document.querySelectorAll("[data-mark-count]"), {
  select: (id) => (id === marks.selectedId ? room.putDown() : room.select(id)),
  retry: (id) => marks.send(id),
  forget: (id) => marks.forget(id),
  pattern: patternOf,
});
const suggestions = new Suggestions(api, storage, {
  say,
  accept: (one, choice) => marks.add(one, choice, one.client_id),
  askKind: (one) => room.askKindOf(one),
  pattern: (key) => patternOf(state.kinds.find((kind) => kind.key === key)?.family),
});
const overlay = new Overlay(view, photo);
room = new Room({ view, overlay, marks, hand, handles, region, panel, suggestions, list, scaleSheet, drawer, patternOf, leaveOut });
const live = new LiveThreshold(api, view, panel, {
  say,
  settings: () => panel.settings,
  hasTilt: () => Boolean(room.state.scale.homography),
  // On a phone the drawer covers the lower part: the middle of the photo goes above it.
  makeRoom: () => {
    byId("live").scrollIntoView({ block: "start" });
    const top = document.querySelector(".stage__top").offsetHeight;
    const middle = (top + view.size[1] - drawer.covered) / 2;
    if (drawer.isNarrow) view.pan([0, middle - view.toScreen([photo.width_px / 2, photo.height_px / 2])[1]]);
    room.drawPicture();
  },
});
panel.addEventListener("automatic", () => live.close());
for (const part of [region, leaveOut]) part.addEventListener("change", () => live.refresh());
byId("measure-settings").addEventListener("change", () => live.refresh());

function measure() {
  drawer.open("voids");
  if (!panel.shown) panel.measure();
}

function escape() {
  if (!hand.isEmpty) hand.drop();
  else if (marks.selected || region.isHeld) room.putDown();
  else if (!panel.putDown()) return drawer.close();
  return true;
}

function onPicture({ key, shiftKey }) {
  if (hand.moveAim({ key, shiftKey })) return true;
  const does = {
    Enter: () => hand.place(),
    " ": () => hand.place(),
    Backspace: () => hand.back(),
    0: () => view.fit(),
  }[key];
  if (does) does();
  else if (PAN_PX[key]) view.pan(PAN_PX[key]);
  else if (key in ZOOMS) view.zoom(ZOOMS[key]);
  else return false;
  return true;
}

const LETTER_DOES = {
  measure: () => {
    drawer.open("voids");
    panel.measure();
  },
  kind: () => room.changeKind(),
  counted: () => panel.shown && panel.toggleCounted(),
  turned: () => panel.shown && panel.rejected.toggle(panel.shown),
  previous: () => room.step(-1),
  next: () => room.step(1),
  larger: () => panel.bySize.step(-1),
  smaller: () => panel.bySize.step(1),
  keys: () => openSheet(byId("keys-sheet")),
};

const keys = new Keys(view.element, {
  letter: (name) => (LETTER_DOES[name] ? LETTER_DOES[name]() : hand.take(name, { byKeyboard: true })),
  undo: () => (hand.hasDrawn ? hand.back() : marks.undo()),
  redo: () => marks.redo(),
  remove: () => room.remove(),
  picture: onPicture,
  escape,
}, { looksOnly });

const CLICKS = {
  "zoom-in": () => view.zoom(true),
  "zoom-out": () => view.zoom(false),
  "zoom-fit": () => view.fit(),
  "draw-aim": () => hand.aim(!hand.isAiming),
  "draw-place": () => hand.place(),
  "draw-back": () => hand.back(),
  "draw-done": () => hand.finish(),
  "draw-drop": () => hand.drop(),
  "mark-kind": () => room.changeKind(),
  "mark-corner": () => handles.removeCorner(),
  "mark-delete": () => room.remove(),
  "mark-done": () => room.putDown(),
  "region-clear": () => region.set(null),
  "undo": () => marks.undo(),
  "redo": () => marks.redo(),
  "unsent-again": () => marks.sendAll(),
  "open-marks": () => drawer.toggle("marks"),
  "close-panel": () => drawer.close(),
  "go-measure": measure,
};
for (const [id, does] of Object.entries(CLICKS)) byId(id).addEventListener("click", does);
for (const button of document.querySelectorAll("[data-tool]")) {
  // A click made by Enter or Space has no count: then the cross-hair comes with the tool.
  button.addEventListener("click", ({ detail }) => hand.take(button.dataset.tool, { byKeyboard: detail === 0 }));
}

const lettersOn = byId("letters-on");
lettersOn.checked = keys.areLettersOn;
lettersOn.addEventListener("change", () => {
  keys.areLettersOn = lettersOn.checked;
});

view.element.setAttribute("role", "application");
view.element.setAttribute("aria-label",
  `Photo ${photo.name}. Arrow keys move it, plus and minus zoom; with a tool, arrow keys move the cross-hair.`);
view.addEventListener("pixels", () => {
  byId("first-picture").hidden = true;
  performance.mark("room:pixels");
}, { once: true });
view.addEventListener("under", ({ detail }) => {
  const { drawing } = hand;
  loupe.show(detail.at, drawing ? [{ points: drawing.points, closed: false }] : []);
});
view.addEventListener("lifted", () => loupe.hide());
let isDraftKept = false;
hand.addEventListener("change", () => {
  isDraftKept = draft.keep(hand.name, hand.corners);
});
// What is half drawn and found no room in the browser is on this page alone.
window.addEventListener("beforeunload", (event) => {
  if (hand.hasDrawn && !isDraftKept) event.preventDefault();
});
window.addEventListener("online", () => marks.sendWaiting());
setInterval(() => marks.sendWaiting(), RETRY_MS);
listenForSheets(element);
listenForDetails(api, photo, { take, say });
const [latest] = state.measurements;
if (latest && region.is(latest.region) && leaveOut.is(latest.leave_out)) panel.showQuietly(latest.id);
room.draw();
marks.sendAll();
const halfDrawn = looksOnly ? null : draft.kept;
if (halfDrawn) {
  view.addEventListener("pixels", () => {
    hand.resume(halfDrawn);
    say("What was half drawn is back: go on, or discard it.");
  }, { once: true });
}
element.classList.add("is-ready");
