// Face, stage and note of the photo, saved without leaving it. Only what was changed here is sent:
// another device may have changed the rest since.
import { byId } from "./dom.js";
import { tellIn } from "./sheets.js";

const NAMES = ["face", "stage", "note"];

/** @param opened  the photo as it was when the fields were filled */
export function listenForDetails(api, opened, { take, say }) {
  const sheet = byId("details-sheet");
  const form = byId("details-form");
  form.addEventListener("submit", async (event) => {
    event.preventDefault();
    const typed = Object.fromEntries(new FormData(form));
    const changed = NAMES.filter((name) => typed[name] !== opened[name]);
    const button = form.querySelector("button");
    button.disabled = true;
    tellIn(sheet, null);
    try {
      const details = Object.fromEntries(changed.map((name) => [name, typed[name]]));
      const { state } = await api.saveDetails({ ...details, seen: opened.note });
      take(state);
      opened = state.photo;
      NAMES.forEach((name) => (form.elements[name].value = opened[name]));
      sheet.close("saved");
      say("Photo details saved.");
    } catch (fault) {
      tellIn(sheet, fault);
    } finally {
      button.disabled = false;
    }
  });
}

/** The line under the name of the photo follows what was saved. */
export function drawDetails({ photo }) {
  byId("photo-place").textContent = [photo.face, photo.stage].filter(Boolean).join(" · ");
}
