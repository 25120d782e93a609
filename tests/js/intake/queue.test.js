// Photos go one at a time, in order; a lost network loses none of them.

import assert from "node:assert/strict";
import { test } from "node:test";

import { pauseMs, UploadQueue } from "../../../static/js/intake/queue.js";
import { outcomeOf } from "../../../static/js/intake/send.js";
import { stateWords, summaryWords } from "../../../static/js/intake/words.js";

const saved = { state: "saved", sentence: "", answer: { photo_id: 1 } };
const away = { state: "away", sentence: "not reached" };
const refused = { state: "refused", sentence: "This is text." };

/** A queue whose server answers as the script says, and the story of what was sent. */
function queueWith(script, pause = () => 0) {
  const story = [];
  let atOnce = 0;
  const send = async ({ name }, progress) => {
    atOnce += 1;
    assert.equal(atOnce, 1, "two photos were sent at once");
    story.push(name);
    progress(0.5);
    await new Promise((resolve) => setTimeout(resolve, 1));
    atOnce -= 1;
    return (script[name] ?? []).shift() ?? saved;
  };
  let settled;
  const queue = new UploadQueue({
    send,
    pause,
    changed: () => queueMicrotask(() => settled?.()),
  });
  const until = (isSo) =>
    new Promise((resolve) => {
      settled = () => isSo() && resolve();
      settled();
    });
  return { queue, story, until };
}

const statesOf = (queue) => queue.items.map(({ state }) => state);

test("photos are sent one after another, in the order they were taken", async () => {
  const { queue, story, until } = queueWith({});
  for (const name of ["a", "b", "c"]) queue.add({ name });
  assert.equal(queue.unsent, 3);

  await until(() => queue.unsent === 0);

  assert.deepEqual(story, ["a", "b", "c"]);
  assert.deepEqual(statesOf(queue), ["saved", "saved", "saved"]);
});

test("without a network the photo is tried again before the next one", async () => {
  const { queue, story, until } = queueWith({ a: [away, away] });
  for (const name of ["a", "b"]) queue.add({ name });

  await until(() => queue.unsent === 0);

  assert.deepEqual(story, ["a", "a", "a", "b"]);
  assert.deepEqual(statesOf(queue), ["saved", "saved"]);
});

test("a refused photo steps aside, and goes again when asked", async () => {
  const { queue, story, until } = queueWith({ a: [refused] });
  for (const name of ["a", "b"]) queue.add({ name });
  await until(() => queue.unsent === 0);
  assert.deepEqual(statesOf(queue), ["refused", "saved"]);

  queue.again(queue.items[0]);
  await until(() => queue.saved === 2);

  assert.deepEqual(story, ["a", "b", "a"]);
});

test("a network that is back ends the pause", async () => {
  const { queue, until } = queueWith({ a: [away] }, () => 3_600_000);
  queue.add({ name: "a" });
  await until(() => queue.items[0].state === "away");
  assert.equal(queue.unsent, 1);

  queue.wake();
  await until(() => queue.saved === 1);
});

test("pauses double from two seconds to a minute", () => {
  assert.deepEqual([1, 2, 3, 4, 5, 6, 20].map(pauseMs), [2000, 4000, 8000, 16_000, 32_000, 60_000, 60_000]);
});

test("an answer is saved, known, away or refused", () => {
  const photo = { photo_id: 7, is_new: true };
  assert.equal(outcomeOf(201, photo).state, "saved");
  assert.equal(outcomeOf(200, { ...photo, is_new: false }).state, "known");
  for (const status of [0, 408, 429, 502, 503, 504]) assert.equal(outcomeOf(status, null).state, "away");
  // An answer that was cut off: the photo may be saved, and sending it again finds that out.
  assert.equal(outcomeOf(201, null).state, "away");
  const told = outcomeOf(415, { what: "This is text, not a photo", do: "send it as JPEG" });
  assert.deepEqual(told, { state: "refused", sentence: "This is text, not a photo: send it as JPEG." });
  for (const status of [400, 413, 422, 500, 507]) assert.equal(outcomeOf(status, null).state, "refused");
});

test("a photo that was changed on the way is sent again by itself, three times at most", () => {
  const told = { what: "The photo did not arrive as it was sent", do: "send it once more", field: "sha256" };
  const first = outcomeOf(422, told);
  assert.deepEqual([first.state, first.altered], ["away", 1]);
  assert.equal(outcomeOf(422, told, 1).state, "away");
  assert.equal(outcomeOf(422, told, 2).state, "refused");
});

test("every state has its words", () => {
  assert.equal(stateWords({ state: "waiting" }), "Waiting");
  assert.equal(stateWords({ state: "sending", share: 0.436 }), "Sending 43 %");
  assert.equal(stateWords({ state: "sending", share: 1 }), "Sent, being looked at");
  assert.equal(stateWords({ state: "known" }), "Already here");
  assert.match(stateWords(refused), /Not saved\. This is text\. It is kept here until you try again/);
  assert.match(stateWords({ ...refused, isLoose: true }), /Keep this page open until you try again/);
  assert.match(stateWords(away), /tried again by itself/);
});

test("the whole is summed up in a sentence", () => {
  assert.equal(summaryWords({ saved: 1, unsent: 0, refused: 0 }), "1 of 1 photo saved.");
  assert.equal(summaryWords({ saved: 1, unsent: 2, refused: 0 }), "1 of 3 photos saved. 2 photos kept here until sent.");
  assert.match(summaryWords({ saved: 0, unsent: 1, refused: 0, isLoose: true }), /Keep this page open/);
  assert.match(summaryWords({ saved: 0, unsent: 0, refused: 0 }), /Every photo .* has been sent/);
  assert.equal(summaryWords({ saved: 2, unsent: 0, refused: 1 }), "2 of 3 photos saved. 1 photo not saved.");
});
