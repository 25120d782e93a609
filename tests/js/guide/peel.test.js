import assert from "node:assert/strict";
import { readFileSync } from "node:fs";
import { test } from "node:test";

import { arm, figure, peelLoad, place } from "../../../static/js/guide/peel.js";

const points = JSON.parse(readFileSync(new URL("peel-points.json", import.meta.url), "utf-8"));
const near = (found, wanted, within = 1e-6) =>
  assert.ok(Math.abs(found - wanted) < within, `${found} is not ${wanted}`);

test("pull and lift are those of the table", () => {
  for (const point of points.loads) {
    const { pull, lift } = peelLoad(point.energy, point.width_mm, point.angle);
    near(pull, point.pull_n);
    near(lift, point.lift_n);
  }
});

test("angles without an answer are refused", () => {
  for (const angle of [0, -10, 181, NaN]) assert.throws(() => peelLoad(100, 25, angle), RangeError);
});

test("points lie on the curve's drawing where the table says", () => {
  for (const point of points.places) {
    const [x, y] = place(point.angle, point.multiple);
    near(x, point.x);
    near(y, point.y);
  }
});

test("the arm turns about the front as the table says", () => {
  for (const point of points.arms) {
    const found = arm(point.angle);
    near(found.bend[0], point.bend[0]);
    near(found.bend[1], point.bend[1]);
    near(found.end[0], point.end[0]);
    near(found.end[1], point.end[1]);
    near(found.liftY, point.lift_y);
  }
});

test("figures have two digits and no exponent", () => {
  for (const point of points.figures) {
    assert.ok((point.words_in ?? [point.words]).includes(figure(point.value)), figure(point.value));
  }
});
