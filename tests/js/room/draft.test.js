import assert from "node:assert/strict";
import { test } from "node:test";

import { Draft } from "../../../static/js/room/draft.js";

const storage = () => {
  const kept = new Map();
  return { getItem: (key) => kept.get(key) ?? null, setItem: (key, value) => kept.set(key, value),
    removeItem: (key) => kept.delete(key) };
};

test("corners set so far are there after the page was closed, for their photo alone", () => {
  const browser = storage();
  assert.equal(new Draft(7, browser).keep("outline", [[1, 2], [3, 4]]), true);

  assert.deepEqual(new Draft(7, browser).kept, { name: "outline", points: [[1, 2], [3, 4]] });
  assert.equal(new Draft(8, browser).kept, null);
});

test("what is finished or dropped is forgotten", () => {
  const browser = storage();
  const draft = new Draft(7, browser);
  draft.keep("line", [[1, 2]]);
  draft.keep("line", []);

  assert.equal(draft.kept, null);
});

test("what cannot be read or kept breaks nothing", () => {
  const browser = storage();
  for (const text of ["{", "[]", '{"name":"line","points":[["a",1]]}', '{"points":[[1,2]]}']) {
    browser.setItem("defectlog.half-drawn.7", text);
    assert.equal(new Draft(7, browser).kept, null);
  }
  const full = { ...storage(), setItem() { throw new Error("full"); } };
  assert.equal(new Draft(7, full).keep("line", [[1, 2]]), false);
  assert.equal(new Draft(7, null).keep("line", [[1, 2]]), false);
});
