import assert from "node:assert/strict";
import { test } from "node:test";

import { Outbox } from "../../../static/js/room/outbox.js";

/** A store with the three methods of localStorage that are used. */
function store(kept = {}) {
  return {
    kept,
    getItem: (key) => kept[key] ?? null,
    setItem: (key, value) => { kept[key] = value; },
    removeItem: (key) => { delete kept[key]; },
  };
}
const job = (id) => ({ id, markId: null, body: { shape: "point", points: [[1, 2]], kind: "dry-spot" } });

test("what was not sent is there again after the page was loaded anew", () => {
  const shelf = store();

  new Outbox(7, shelf).put(job("a"));

  assert.deepEqual(new Outbox(7, shelf).jobs, [job("a")]);
});

test("one photo does not see what another has not sent", () => {
  const shelf = store();

  new Outbox(7, shelf).put(job("a"));

  assert.deepEqual(new Outbox(8, shelf).jobs, []);
});

test("once everything is sent nothing stays on the device", () => {
  const shelf = store();
  const outbox = new Outbox(7, shelf);

  outbox.put(job("a"));
  outbox.drop("a");

  assert.deepEqual(shelf.kept, {});
});

test("a later change of the same thing takes the place of the earlier", () => {
  const outbox = new Outbox(7, store());

  outbox.put(job("a"));
  outbox.put({ ...job("a"), body: { points: [[3, 4]] } });

  assert.deepEqual(outbox.jobs.map(({ body }) => body.points), [[[3, 4]]]);
});

test("unreadable storage, full storage and no storage at all stop nobody from drawing", () => {
  const full = { ...store(), setItem() { throw new Error("full"); } };

  for (const shelf of [store({ "defectlog.unsent.7": "{not json" }), full, null]) {
    const outbox = new Outbox(7, shelf);
    outbox.put(job("a"));
    assert.equal(outbox.jobs.length, 1);
  }
});
