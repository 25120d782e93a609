// Face, stage and note of the photo, saved without leaving it.
import { byId } from "./dom.js";
import { tellIn } from "./sheets.js";

export function listenForDetails(api, { take, say }) {
  const sheet = byId("details-sheet");
  const form = byId("details-form");
  form.addEventListener("submit", async (event) => {
    event.preventDefault();
    const { face, stage, note } = Object.fromEntries(new FormData(form));
    const button = form.querySelector("button");
    button.disabled = true;
    tellIn(sheet, null);
    try {
      const { state } = await api.saveDetails({ face, stage, note });
      take(state);
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
