// Sheets slide over the picture: one question each. They are dialogs, so focus and Escape are right.
import { byId, chip, make } from "./dom.js";
import { distance } from "./geometry.js";

const MANY_KINDS = 10;
const STRAY_MS = 400;
const STRAY_PX = 24;

let lifted = [NaN, NaN]; // where a finger left the screen last
let opened = { at: 0, where: lifted }; // when a sheet came up, and under which finger

/** The second tap of a double one, which means what lay there before the sheet came up. */
const isStray = ({ detail, clientX, clientY }) => detail > 0
  && performance.now() - opened.at < STRAY_MS && distance([clientX, clientY], opened.where) < STRAY_PX;

/** Open a sheet; resolves with its return value once it is closed. */
export function openSheet(sheet) {
  return new Promise((resolve) => {
    sheet.returnValue = "";
    opened = { at: performance.now(), where: lifted };
    sheet.addEventListener("close", () => resolve(sheet.returnValue), { once: true });
    if (!sheet.open) sheet.showModal();
  });
}

/** Buttons with data-sheet open it; buttons with data-close close theirs, with that value. */
export function listenForSheets(root) {
  document.addEventListener("pointerup", ({ clientX, clientY }) => {
    lifted = [clientX, clientY];
  }, { capture: true });
  root.addEventListener("click", (event) => {
    if (!event.target.closest("dialog[open]") || !isStray(event)) return;
    event.stopPropagation();
    event.preventDefault();
  }, { capture: true });
  root.addEventListener("click", ({ target }) => {
    const opener = target.closest("[data-sheet]");
    if (opener) openSheet(byId(opener.dataset.sheet));
    const closer = target.closest("[data-close]");
    if (closer) closer.closest("dialog").close(closer.dataset.close);
    const isBackdrop = target.matches("dialog:not([data-stays])");
    if (isBackdrop) target.close();
  });
}

/** Show what went wrong in the sheet that caused it, or clear it. */
export function tellIn(sheet, fault) {
  const place = sheet.querySelector("[data-fault]");
  place.textContent = fault ? `${fault.what}: ${fault.do}.` : "";
  place.hidden = !fault;
}

function choiceButton({ code, title, pattern, detail, onclick }) {
  return make("li", {}, make("button", { type: "button", class: "choice", onclick },
    chip(code, pattern),
    make("span", { class: "choice__title" }, title),
    detail && make("span", { class: "choice__detail" }, detail)));
}

/** Where there are many kinds, a few letters of a name or its code leave only those that fit. */
function listenForFind(sheet, isWanted) {
  const find = byId("kind-find");
  const choices = [...sheet.querySelectorAll(".choice-list li")];
  find.value = "";
  find.closest("div").hidden = !isWanted;
  find.oninput = () => {
    const wanted = find.value.trim().toLowerCase();
    for (const choice of choices) choice.hidden = !choice.textContent.toLowerCase().includes(wanted);
  };
  find.onkeydown = (event) => {
    const left = choices.filter(({ hidden }) => !hidden);
    if (event.key !== "Enter" || !find.value.trim() || left.length === 0) return;
    event.preventDefault();
    left[0].querySelector("button").click();
  };
}

/** The way to the key, with what the photo and the mark on it say by themselves. */
function askTheKey(link, signs) {
  const address = new URL(link.href);
  for (const name of ["mark", "measured"]) {
    if (signs[name]) address.searchParams.set(name, signs[name]);
    else address.searchParams.delete(name);
  }
  link.href = address;
}

/**
 * Ask what a mark shows. One tap answers.
 *
 * @param question  {title, size, kinds, kindsTitle, findings, pattern(family), canDrop, signs}; `signs`
 *   is what the mark says to the key by itself: {mark, measured}
 * @returns {Promise<{kind: string}|{finding_id: number}|"drop"|null>}  null: closed without an answer
 */
export async function askKind({ title, size, kinds, findings, pattern, canDrop, kindsTitle, signs = {} }) {
  const sheet = byId("kind-sheet");
  let answer = null;
  const give = (choice) => () => {
    answer = choice;
    sheet.close("chosen");
  };
  sheet.querySelector("[data-title]").textContent = title;
  sheet.querySelector("[data-size]").textContent = size;
  sheet.querySelector("[data-close=drop]").hidden = !canDrop;
  byId("kind-kinds-title").textContent = kindsTitle;
  askTheKey(byId("kind-key"), signs);
  const open = findings.filter(({ is_open }) => is_open);
  byId("kind-findings").hidden = open.length === 0;
  byId("kind-findings").querySelector("ul").replaceChildren(...open.map((finding) => choiceButton({
    code: finding.code,
    title: finding.title,
    pattern: pattern(finding.family),
    detail: [`finding ${finding.id}`, finding.size_words].filter(Boolean).join(", "),
    onclick: give({ finding_id: finding.id }),
  })));
  byId("kind-kinds").replaceChildren(...kinds.map((kind) => choiceButton({
    code: kind.code,
    title: kind.title,
    pattern: pattern(kind.family),
    onclick: give({ kind: kind.key }),
  })));
  listenForFind(sheet, kinds.length > MANY_KINDS);
  sheet.querySelector(".sheet__body").scrollTop = 0;
  const closing = openSheet(sheet);
  // With a finger it would only bring up the keyboard, over half of the kinds.
  if (kinds.length > MANY_KINDS && matchMedia("(pointer: fine)").matches) byId("kind-find").focus();
  const how = await closing;
  return how === "drop" ? "drop" : answer;
}
