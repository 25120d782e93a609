// The run round a part: which face comes next.

import assert from "node:assert/strict";
import { test } from "node:test";

import { nextFace, takeWords } from "../../../static/js/intake/run.js";

const taken = (...faces) => new Map(faces.map((face) => [face, 1]));

test("tool side, bag side and edge come one after another", () => {
  assert.equal(nextFace(taken("tool side"), "tool side"), "bag side");
  assert.equal(nextFace(taken("tool side", "bag side"), "bag side"), "edge");
});

test("a face left out is asked for again", () => {
  assert.equal(nextFace(taken("edge"), "edge"), "tool side");
});

test("when the round is done, the face just taken stays chosen", () => {
  assert.equal(nextFace(taken("tool side", "bag side", "edge"), "edge"), "edge");
  assert.equal(nextFace(taken("tool side", "bag side", "edge", "core"), "core"), "core");
});

test("the button says what it takes", () => {
  assert.equal(takeWords("bag side"), "Take the bag side");
  assert.equal(takeWords("other"), "Take something else");
});
