import assert from "node:assert/strict";
import { test } from "node:test";

import { areaWords, figure, plural, readNumber, sizeWords } from "../../../static/js/room/words.js";

test("figures have three significant digits, no exponent and no trailing noughts", () => {
  const shown = [0.4213, 12.44, 1307, 9999.6, 131072, 2, 0.05, 0, 9.999].map((value) => figure(value));

  assert.deepEqual(shown, ["0.421", "12.4", "1310", "10\u202f000", "131\u202f000", "2", "0.05", "0", "10"]);
});

test("a length may be typed with a point or a comma", () => {
  assert.equal(readNumber("85,6"), 85.6);
  assert.equal(readNumber(" 85.6 "), 85.6);
});

test("what is no number, or could be read in two ways, is none", () => {
  for (const text of ["", "abc", "1.234,5", "-3", "1e3"]) assert.equal(readNumber(text), null);
});

const scaled = (pxPerMm) => ({ px_per_mm: pxPerMm, homography: null });
const NONE = scaled(null);

test("sizes are millimetres with a scale and pixels without", () => {
  const box = [[0, 0], [124, 62]];

  assert.equal(sizeWords("box", box, scaled(12.4)), "10 ×\u00a05\u00a0mm");
  assert.equal(sizeWords("box", box, NONE), "124 ×\u00a062\u00a0px");
});

test("a line is as long as its bends make it", () => {
  assert.equal(sizeWords("line", [[0, 0], [30, 40], [60, 80]], scaled(10)), "10\u00a0mm long");
});

test("on a tilted photo the plane of the card says how long a line is, not the mean scale", () => {
  // x in mm is 0.1·x / (1 + x/1000): 100 px are 10/1.1 mm here, and less further to the right.
  const tilted = { px_per_mm: 10, homography: [[0.1, 0, 0], [0, 0.1, 0], [0.001, 0, 1]] };

  assert.equal(sizeWords("line", [[0, 0], [100, 0]], tilted), "9.09\u00a0mm long");
});

test("an outline is as far across as its two farthest corners", () => {
  assert.equal(sizeWords("outline", [[0, 0], [30, 0], [30, 40]], scaled(10)), "5\u00a0mm across");
});

test("a spot has no size", () => {
  assert.equal(sizeWords("point", [[5, 5]], scaled(10)), "");
});

test("an area is told in mm², from ten square centimetres on in cm²", () => {
  const square = (side) => [[0, 0], [side, 0], [side, side], [0, side]];

  assert.equal(areaWords(square(90), scaled(10)), "81\u00a0mm²");
  assert.equal(areaWords(square(400), scaled(10)), "16\u00a0cm²");
  assert.equal(areaWords(square(20), NONE), "400\u00a0px²");
});

test("one mark, two marks", () => {
  assert.deepEqual([plural(1, "mark"), plural(2, "mark")], ["1\u00a0mark", "2\u00a0marks"]);
});
