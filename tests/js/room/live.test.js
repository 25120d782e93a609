import assert from "node:assert/strict";
import { test } from "node:test";

import { figuresOf, flood } from "../../../static/js/room/live-count.js";

/** Islands beyond one step, one flood fill each: slow, and nothing can go wrong with it. */
function plainly(levels, width, height, step, steps, leastPx) {
  const seen = new Set();
  const sizes = [];
  const isIn = (at) => levels[at] >= step && levels[at] < steps && !seen.has(at);
  for (let start = 0; start < levels.length; start += 1) {
    if (!isIn(start)) continue;
    const open = [start];
    seen.add(start);
    let size = 0;
    while (open.length) {
      const at = open.pop();
      size += 1;
      const [x, y] = [at % width, Math.floor(at / width)];
      for (let v = Math.max(0, y - 1); v <= Math.min(height - 1, y + 1); v += 1) {
        for (let u = Math.max(0, x - 1); u <= Math.min(width - 1, x + 1); u += 1) {
          if (!isIn(v * width + u)) continue;
          seen.add(v * width + u);
          open.push(v * width + u);
        }
      }
    }
    sizes.push(size);
  }
  const large = sizes.filter((size) => size >= leastPx);
  return { raw: seen.size, count: large.length, area: large.reduce((sum, size) => sum + size, 0) };
}

/** Numbers that look random and are the same each time (Park and Miller, CACM 31, 1988). */
function* dice(seed) {
  for (let state = seed; ;) yield (state = (state * 48271) % 2147483647) / 2147483647;
}

for (const leastPx of [0.4, 1, 4.9, 30]) {
  test(`flooding counts what counting island by island counts, from ${leastPx} pixels on`, () => {
    const [width, height, steps, least] = [37, 29, 40, 3];
    const random = dice(7);
    const levels = Uint8Array.from({ length: width * height }, (_, at) => {
      const wave = 18 + 14 * Math.sin((at % width) / 4) * Math.cos(at / width / 3);
      const level = Math.max(0, Math.min(steps - 1, Math.round(wave + 12 * (random.next().value - 0.5))));
      return random.next().value < 0.05 ? 255 : level;
    });

    const flooded = flood(levels, { width, height, steps, least, leastPx });

    for (let step = least; step < steps; step += 1) {
      const { raw, count, area } = plainly(levels, width, height, step, steps, leastPx);
      const shown = flooded.from.reduce((sum, from) => sum + (from >= step), 0);
      assert.deepEqual([flooded.raw[step], flooded.counts[step], flooded.counted[step], shown],
        [raw, count, area, area], `step ${step}`);
    }
  });
}

test("a higher threshold never counts more", () => {
  const random = dice(11);
  const levels = Uint8Array.from({ length: 2500 }, () => Math.floor(200 * random.next().value));
  const { counted } = flood(levels, { width: 50, height: 50, steps: 200, least: 10, leastPx: 5 });

  for (let step = 11; step < 200; step += 1) assert.ok(counted[step] <= counted[step - 1]);
});

test("an empty picture counts nothing", () => {
  const { counted, counts } = flood(new Uint8Array(12), { width: 4, height: 3, steps: 200, least: 10, leastPx: 5 });

  assert.equal(Math.max(...counted, ...counts), 0);
});

test("between two steps that were looked up the figure lies on a straight line", () => {
  const flooded = { raw: [4, 4, 4, 4, 4], counted: [4, 4, 4, 4, 4], counts: [1, 1, 1, 1, 1] };
  const { share, count } = figuresOf({ shares: [1, 0.5, 0.4, 0.3, 0.2], is_reduced: true,
    looked_up: [[1, 0.9, 100], [3, 0.5, 50]] }, flooded);

  assert.deepEqual(count, [100, 100, 75, 50, 50]);
  assert.ok(Math.abs(share[2] - 0.4 * 0.7) < 1e-12);
});
