// One photo to the server, with its progress. XMLHttpRequest, because fetch tells none.

import { sha256Of } from "./sha256.js";

const STALLED_MS = 60_000; // no byte went out for so long: the Wi-Fi is gone
const ANSWER_MS = 180_000; // the server looks at a large photo for a while
const AWAY = new Set([0, 408, 429, 502, 503, 504]);
const MOST_ALTERED = 3; // so often a photo that was changed on the way is sent again by itself
const UNREADABLE = "The browser can no longer read this photo: take it again, or choose it again.";

/**
 * What an answer means for the queue.
 *
 * @param {?object} body  null when it could not be read
 * @param {number} altered  how often it arrived changed before
 */
export function outcomeOf(status, body, altered = 0) {
  if ((status === 200 || status === 201) && body?.photo_id) {
    return { state: body.is_new ? "saved" : "known", share: 1, answer: body, sentence: "" };
  }
  if (AWAY.has(status) || status === 200 || status === 201) {
    return { state: "away", sentence: "The workshop's computer was not reached" };
  }
  if (status === 422 && body?.field === "sha256" && altered + 1 < MOST_ALTERED) {
    return { state: "away", sentence: "It was changed on the way", altered: altered + 1 };
  }
  const said = body?.what ? `${body.what}: ${body.do}.` : "The computer broke off. Try again.";
  return { state: "refused", sentence: said };
}

const csrf = () => document.querySelector("meta[name=csrf-token]").content;

/** Whether a photo that was tried before has arrived without our hearing of it. */
export async function askReceived(id) {
  try {
    const answer = await fetch(`/photos/received?once=${id}`, { headers: { Accept: "application/json" } });
    if (!answer.ok) return { isReached: false, answer: null };
    return { isReached: true, answer: (await answer.json()).received[id] ?? null };
  } catch {
    return { isReached: false, answer: null };
  }
}

/** @returns {Promise<object>} an outcome; never rejects */
export async function sendPhoto({ id, action, file, face, stage, altered }, progress) {
  const form = new FormData();
  try {
    form.append("sha256", await sha256Of(file));
  } catch {
    return { state: "refused", sentence: UNREADABLE };
  }
  form.append("once", id);
  form.append("face", face);
  form.append("stage", stage);
  form.append("photos", file, file.name);
  return new Promise((resolve) => {
    const request = new XMLHttpRequest();
    let patience = setTimeout(() => request.abort(), STALLED_MS);
    const waitFor = (ms) => {
      clearTimeout(patience);
      patience = setTimeout(() => request.abort(), ms);
    };
    request.upload.addEventListener("progress", ({ loaded, total }) => {
      waitFor(STALLED_MS);
      if (total) progress(loaded / total);
    });
    request.upload.addEventListener("load", () => waitFor(ANSWER_MS));
    request.addEventListener("loadend", () => {
      clearTimeout(patience);
      resolve(outcomeOf(request.status, request.response, altered));
    });
    request.open("POST", action);
    request.responseType = "json";
    request.setRequestHeader("Accept", "application/json");
    request.setRequestHeader("X-CSRFToken", csrf());
    request.send(form);
  });
}
