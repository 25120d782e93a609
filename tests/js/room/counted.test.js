import assert from "node:assert/strict";
import { test } from "node:test";

import { acrossFor } from "../../../static/js/room/counted.js";

test("from far away a pinhole is drawn one and a half to two pixels of the screen wide", () => {
  for (let seen = 360; seen < 1900; seen += 7) {
    const across = acrossFor(seen, 4000);
    const cell = seen / across;
    assert.ok(cell <= 2 && (cell > 1.4 || across === 250), `${seen} px: ${cell}`);
  }
});

test("from close by, and of a small photo, the picture is as fine as there is", () => {
  assert.equal(acrossFor(4000, 4000), null);
  assert.equal(acrossFor(390, 480), null);
});
