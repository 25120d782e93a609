import assert from "node:assert/strict";
import { createHash } from "node:crypto";
import { test } from "node:test";

import { Sha256, sha256Of } from "../../../static/js/intake/sha256.js";

const bytes = (text) => new TextEncoder().encode(text);

// The examples of FIPS 180-4 (as in NIST's "Examples with Intermediate Values", SHA-256, one block
// and two blocks), and of the byte-oriented test vectors of its validation system (length 0).
const PUBLISHED = [
  ["abc", "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad"],
  [
    "abcdbcdecdefdefgefghfghighijhijkijkljklmklmnlmnomnopnopq",
    "248d6a61d20638b8e5c026930c3e6039a33ce45964ff2167f6ecedd419db06c1",
  ],
  ["", "e3b0c44298fc1c149afbf4c8996fb92427ae41e4649b934ca495991b7852b855"],
];

test("published examples come out", () => {
  for (const [text, digest] of PUBLISHED) {
    const hash = new Sha256();
    hash.take(bytes(text));
    assert.equal(hash.finish(), digest);
  }
});

test("every length round the ends of blocks comes out as the reference library has it", () => {
  for (let length = 0; length < 200; length += 1) {
    const data = Uint8Array.from({ length }, (_, k) => (k * 37 + length) % 256);
    const hash = new Sha256();
    hash.take(data);
    assert.equal(hash.finish(), createHash("sha256").update(data).digest("hex"), `length ${length}`);
  }
});

test("it does not matter in which pieces the bytes come", () => {
  const data = Uint8Array.from({ length: 1000 }, (_, k) => (k * k) % 251);
  const whole = createHash("sha256").update(data).digest("hex");
  for (const size of [1, 7, 63, 64, 65, 999]) {
    const hash = new Sha256();
    for (let at = 0; at < data.length; at += size) hash.take(data.subarray(at, at + size));
    assert.equal(hash.finish(), whole, `pieces of ${size}`);
  }
});

test("a file of several pieces has the hash of all its bytes", async () => {
  const data = Uint8Array.from({ length: 700_001 }, (_, k) => (k * 31) % 256);
  const digest = createHash("sha256").update(data).digest("hex");
  assert.equal(await sha256Of(new Blob([data])), digest);
});
