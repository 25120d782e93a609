import assert from "node:assert/strict";
import { test } from "node:test";

import {
  boxCorners, distanceToPath, hull, isInside, longestExtent, markAt, onPhoto, outlineArea, pathLength,
  simplify, simplifyOutline,
} from "../../../static/js/room/geometry.js";

const near = (actual, wanted, within = 1e-9) =>
  assert.ok(Math.abs(actual - wanted) <= within, `${actual} is not ${wanted}`);

const circle = (count, radius) => Array.from({ length: count }, (_, i) => {
  const angle = (2 * Math.PI * i) / count;
  return [radius * Math.cos(angle), radius * Math.sin(angle)];
});

test("a triangle of base 4 and height 3 has half of 12 inside, either way round", () => {
  const triangle = [[0, 0], [4, 0], [1, 3]];

  assert.equal(outlineArea(triangle), 6);
  assert.equal(outlineArea(triangle.slice().reverse()), 6);
});

test("a regular polygon of n corners has n/2 r² sin(2π/n) inside", () => {
  near(outlineArea(circle(12, 10)), 6 * 100 * Math.sin(Math.PI / 6));
});

test("a path of two 3-4-5 steps is ten long", () => {
  assert.equal(pathLength([[0, 0], [3, 4], [6, 8]]), 10);
});

test("the longest extent of a 3 by 4 box is its diagonal, 5", () => {
  near(longestExtent([[0, 0], [3, 0], [3, 4], [0, 4]]), 5);
});

test("extents do not care how a shape lies", () => {
  const turned = [[0, 0], [8, 0], [8, 1], [0, 1]].map(([x, y]) => [
    x * Math.cos(0.7) - y * Math.sin(0.7), x * Math.sin(0.7) + y * Math.cos(0.7)]);

  near(longestExtent(turned), Math.sqrt(65));
});

test("points inside a shape are not part of its hull", () => {
  assert.equal(hull([[0, 0], [10, 0], [5, 2], [10, 10], [0, 10], [4, 6]]).length, 4);
});

test("a single point has no extent", () => {
  assert.equal(longestExtent([[7, 7]]), 0);
});

test("a straight finger path is simplified to its two ends", () => {
  const path = Array.from({ length: 50 }, (_, i) => [i, i % 2 ? 0.4 : -0.4]);

  assert.deepEqual(simplify(path, 1), [path[0], path[49]]);
});

test("a bend stays when a path is simplified, and the path stays within the tolerance", () => {
  const path = [...Array.from({ length: 20 }, (_, i) => [i, 0]), ...Array.from({ length: 20 }, (_, i) => [19, i + 1])];

  assert.deepEqual(simplify(path, 1), [[0, 0], [19, 0], [19, 20]]);
});

test("a circle drawn by finger keeps its area within two per cent when simplified", () => {
  const drawn = circle(200, 100);
  const kept = simplifyOutline(drawn, 1);

  assert.ok(kept.length < 40, `${kept.length} corners`);
  near(outlineArea(kept) / (Math.PI * 100 ** 2), 1, 0.02);
});

test("no point of the drawn circle is farther from the simplified one than the tolerance", () => {
  const drawn = circle(200, 100);
  const kept = simplifyOutline(drawn, 1.5);

  for (const point of drawn) assert.ok(distanceToPath(point, kept, true) <= 1.5 + 1e-9);
});

test("the notch of an L lies outside of it", () => {
  const ell = [[0, 0], [10, 0], [10, 4], [4, 4], [4, 10], [0, 10]];

  assert.equal(isInside([2, 8], ell), true);
  assert.equal(isInside([8, 8], ell), false);
});

test("a box has its corners clockwise from the top left, however it was dragged", () => {
  const corners = [[1, 2], [5, 2], [5, 9], [1, 9]];

  assert.deepEqual(boxCorners([[5, 9], [1, 2]]), corners);
  assert.deepEqual(boxCorners([[1, 9], [5, 2]]), corners);
});

test("a point beside the photo is brought to its edge", () => {
  assert.deepEqual(onPhoto([-3, 250], 400, 200), [0, 200]);
});

test("a tap near a line means that mark, though it lies inside a larger one", () => {
  const outline = { id: 1, shape: "outline", points: [[0, 0], [100, 0], [100, 100], [0, 100]] };
  const line = { id: 2, shape: "line", points: [[20, 50], [80, 50]] };

  assert.equal(markAt([50, 53], [outline, line], 5).id, 2);
});

test("a tap inside two outlines means the smaller one, and a tap beside all means none", () => {
  const large = { id: 1, shape: "box", points: [[0, 0], [100, 100]] };
  const small = { id: 2, shape: "box", points: [[30, 30], [70, 70]] };

  assert.equal(markAt([50, 50], [small, large], 3).id, 2);
  assert.equal(markAt([150, 50], [small, large], 3), null);
});
