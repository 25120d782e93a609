import assert from "node:assert/strict";
import { test } from "node:test";

import { crossesItself, withoutTails } from "../../../static/js/room/crossing.js";

const SQUARE = [[0, 0], [100, 0], [100, 100], [0, 100]];

test("a square does not cross itself, an hourglass does", () => {
  assert.equal(crossesItself(SQUARE), false);
  assert.equal(crossesItself([[0, 0], [100, 0], [0, 100], [100, 100]]), true);
});

test("a slip where a finger began is no crossing, as in the records", () => {
  // The last corner lies 2 px beyond the first edge: the loop cut off is about 4 px of 400.
  assert.equal(crossesItself([[0, 0], [100, 0], [100, 100], [0, 100], [2, -2]]), false);
});

test("touching at a corner is not crossing", () => {
  assert.equal(crossesItself([[0, 0], [50, 50], [100, 0], [100, 100], [50, 50], [0, 100]]), false);
});

test("the crossed ends of a loop are left out where they cross", () => {
  // Down the left side past the start, the lines from (40, -30) and to (-30, 40) cross at (5, 5).
  const loop = withoutTails([[-30, 40], [40, -30], [200, 0], [200, 200], [0, 200], [5, 30], [5, -50]]);

  assert.deepEqual(loop[0], [5, 5]);
  assert.equal(crossesItself(loop), false);
  assert.equal(loop.some(([, y]) => y === -50), false);
});

test("an outline without crossing stays as it is", () => {
  assert.equal(withoutTails(SQUARE), SQUARE);
});
