import assert from "node:assert/strict";
import { test } from "node:test";

import { BoxTool } from "../../../static/js/room/box-tool.js";
import { distance } from "../../../static/js/room/geometry.js";
import { LineTool } from "../../../static/js/room/line-tool.js";
import { OutlineTool } from "../../../static/js/room/outline-tool.js";
import { SpotTool } from "../../../static/js/room/spot-tool.js";
import { TwoPointTool } from "../../../static/js/room/two-point-tool.js";

/** A tool over a photo shown at `zoom` pixels of the screen for one of its own. */
function inHand(Tool, zoom = 1) {
  const drawn = [];
  const tool = new Tool({
    gap: (a, b) => distance(a, b) * zoom, changed() {}, drawn: (shape) => drawn.push(shape) });
  return { tool, drawn };
}

function drag(tool, path) {
  tool.press(path[0]);
  for (const point of path) tool.drag(point);
  tool.release();
}

test("a tap with the spot tool is a point", () => {
  const { tool, drawn } = inHand(SpotTool);

  tool.tap([40, 50]);

  assert.deepEqual(drawn, [{ shape: "point", points: [[40, 50]] }]);
});

test("a drag along a straight crack is a line of two points", () => {
  const { tool, drawn } = inHand(LineTool);

  drag(tool, Array.from({ length: 30 }, (_, i) => [10 * i, 0]));

  assert.deepEqual(drawn, [{ shape: "line", points: [[0, 0], [290, 0]] }]);
});

test("a line is tapped bend by bend, and ends with a tap near its last point", () => {
  const { tool, drawn } = inHand(LineTool);

  for (const point of [[0, 0], [100, 0], [100, 80], [104, 83]]) tool.tap(point);

  assert.deepEqual(drawn[0].points, [[0, 0], [100, 0], [100, 80]]);
});

test("how near a closing tap must be counts on the screen, not on the photo", () => {
  const { tool, drawn } = inHand(OutlineTool, 10);

  for (const point of [[0, 0], [10, 0], [10, 8], [0, 3]]) tool.tap(point);

  assert.equal(drawn.length, 0); // 3 pixels of the photo are 30 of the screen: another corner
  tool.tap([0, 1]);
  assert.equal(drawn[0].points.length, 4);
});

test("the cross-hair may put corners closer together than a finger", () => {
  const { tool, drawn } = inHand(OutlineTool);

  for (const point of [[0, 0], [10, 0], [10, 8], [0, 8]]) tool.tap(point, 3);

  assert.equal(drawn.length, 0);
  tool.tap([0, 8], 3);
  assert.equal(drawn[0].points.length, 4);
});

test("a drag after tapped corners carries the next corner and loses none", () => {
  const { tool, drawn } = inHand(OutlineTool);

  tool.tap([0, 0]);
  tool.tap([200, 0]);
  drag(tool, [[150, 150], [180, 190], [200, 200]]);

  assert.deepEqual(tool.points, [[0, 0], [200, 0], [200, 200]]);
  assert.equal(drawn.length, 0);
});

test("a box goes from corner to corner, by drag or by two taps", () => {
  const { tool, drawn } = inHand(BoxTool);

  drag(tool, [[10, 10], [40, 20], [90, 60]]);
  tool.cancel();
  tool.tap([10, 10]);
  tool.tap([90, 60]);

  assert.deepEqual(drawn.map(({ points }) => points), [[[10, 10], [90, 60]], [[10, 10], [90, 60]]]);
});

test("a slip of the finger draws nothing", () => {
  for (const Tool of [LineTool, BoxTool, OutlineTool, TwoPointTool]) {
    const { tool, drawn } = inHand(Tool);

    drag(tool, [[10, 10], [12, 11], [12.5, 12]]);

    assert.deepEqual([drawn, tool.points], [[], []], Tool.name);
  }
});

test("two ends of a known length are kept in the order of the taps", () => {
  const { tool, drawn } = inHand(TwoPointTool);

  tool.tap([300, 20]);
  tool.tap([10, 20]);

  assert.deepEqual(drawn[0].points, [[300, 20], [10, 20]]);
});

test("the last corner can be taken back, and everything dropped", () => {
  const { tool } = inHand(LineTool);

  tool.tap([0, 0]);
  tool.tap([100, 0]);
  tool.back();
  assert.deepEqual(tool.points, [[0, 0]]);
  tool.cancel();
  assert.deepEqual(tool.points, []);
});

test("a scale is as sure as the less sure of its two ends, in pixels of the photo", () => {
  let zoom = 1;
  const drawn = [];
  const tool = new TwoPointTool({
    gap: (a, b) => distance(a, b) * zoom, unsure: () => 8, changed() {}, drawn: (shape) => drawn.push(shape) });

  zoom = 0.25; // the whole photo on a phone: 8 px of the screen are 32 of it
  tool.tap([100, 100]);
  zoom = 2;
  tool.tap([500, 100]);
  assert.equal(drawn[0].pointing_px, 32);

  tool.cancel();
  drag(tool, [[100, 100], [300, 100]]);
  assert.equal(drawn[1].pointing_px, 4);
});
