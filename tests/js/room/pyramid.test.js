import assert from "node:assert/strict";
import { test } from "node:test";

import { levelsOf, picturesToKeep, tilesReady } from "../../../static/js/room/pyramid.js";

const COPIES = [["s", 320, 240], ["m", 1600, 1200], ["l", 4096, 3072]].map(([url, width, height]) => (
  { url, width_px: width, height_px: height }));
const TILES = { url: "/photos/7/tiles", version: "abc", tile_px: 512, levels: [{ width_px: 8000, height_px: 6000 }] };

const answering = (...answers) => {
  const asked = [];
  return [asked, async (url) => {
    asked.push(url);
    const answer = answers.shift();
    if (answer === "away") throw new TypeError("no network");
    return { ok: answer.status < 400, status: answer.status, json: async () => answer.body };
  }];
};

test("copies come first, then the full pixels in tiles", () => {
  const levels = levelsOf({ renditions: COPIES, tiles: TILES });

  assert.deepEqual(levels.map(({ width, tile }) => [width, tile]), [[320, 0], [1600, 0], [4096, 0], [8000, 512]]);
  assert.equal(levels[3].url(15, 11), "/photos/7/tiles/0/15-11.jpg?v=abc");
});

test("of the full pixels about one screen is kept, however large the photo", () => {
  // 1170 × 2400 at 0.8 screen pixels a pixel: 1463 × 3000, so 3 × 6 tiles, and one more each way.
  const kept = picturesToKeep({ renditions: COPIES, tiles: TILES }, [1170, 2400]);

  assert.equal(kept, 3 + 4 * 7);
  assert.equal(picturesToKeep({ renditions: COPIES, tiles: null }, [1170, 2400]), 4);
});

test("tiles are waited for, through Wi-Fi that drops", async () => {
  const [asked, ask] = answering({ status: 202, body: { ready: false } }, "away", { status: 502 },
    { status: 200, body: { ready: true } });

  assert.equal(await tilesReady(TILES, { pause: 0, ask }), true);
  assert.equal(asked.length, 4);
});

test("what cannot be cut is not asked for again", async () => {
  for (const no of [{ status: 200, body: { ready: false, failed: true } }, { status: 401 }]) {
    const [asked, ask] = answering(no);

    assert.equal(await tilesReady(TILES, { pause: 0, ask }), false);
    assert.equal(asked.length, 1);
  }
});
