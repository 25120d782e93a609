// SHA-256 (FIPS 180-4) of a file, piece by piece. Browsers bring their own only where the page came
// over HTTPS, and phones in a workshop may come over plain HTTP: there it is most needed.

const PIECE_BYTES = 128 * 1024; // on a processor slowed to a quarter some hundredths of a second

// Section 4.2.2: the first 32 bits of the fractional parts of the cube roots of the first 64 primes.
const K = new Uint32Array(64);
// Section 5.3.3: of the square roots of the first eight.
const START = new Uint32Array(8);
{
  const fraction = (root) => ((root - Math.floor(root)) * 2 ** 32) | 0;
  let found = 0;
  for (let n = 2; found < 64; n += 1) {
    let isPrime = true;
    for (let d = 2; d * d <= n && isPrime; d += 1) isPrime = n % d !== 0;
    if (!isPrime) continue;
    K[found] = fraction(Math.cbrt(n));
    if (found < 8) START[found] = fraction(Math.sqrt(n));
    found += 1;
  }
}

const turned = (x, n) => (x >>> n) | (x << (32 - n));

/** A hash that takes bytes as they come. */
export class Sha256 {
  #state = new Uint32Array(START);
  #words = new Uint32Array(64);
  #rest = new Uint8Array(64);
  #held = 0; // bytes in #rest
  #length = 0;

  /** @param {Uint8Array} bytes */
  take(bytes) {
    this.#length += bytes.length;
    let at = 0;
    if (this.#held) {
      at = Math.min(64 - this.#held, bytes.length);
      this.#rest.set(bytes.subarray(0, at), this.#held);
      this.#held += at;
      if (this.#held < 64) return;
      this.#block(this.#rest, 0);
      this.#held = 0;
    }
    for (; at + 64 <= bytes.length; at += 64) this.#block(bytes, at);
    this.#rest.set(bytes.subarray(at));
    this.#held = bytes.length - at;
  }

  /** @returns {string} 64 hexadecimal digits; nothing can be taken after that */
  finish() {
    const length = this.#length;
    const padding = new Uint8Array(((119 - (length % 64)) % 64) + 9);
    padding[0] = 0x80;
    const end = new DataView(padding.buffer, padding.length - 8);
    end.setUint32(0, Math.floor(length / 2 ** 29));
    end.setUint32(4, (length << 3) >>> 0);
    this.take(padding);
    return Array.from(this.#state, (word) => word.toString(16).padStart(8, "0")).join("");
  }

  // Section 6.2.2.
  #block(bytes, from) {
    const w = this.#words;
    for (let t = 0; t < 16; t += 1) {
      const at = from + 4 * t;
      w[t] = (bytes[at] << 24) | (bytes[at + 1] << 16) | (bytes[at + 2] << 8) | bytes[at + 3];
    }
    for (let t = 16; t < 64; t += 1) {
      const [x, y] = [w[t - 15], w[t - 2]];
      const s0 = turned(x, 7) ^ turned(x, 18) ^ (x >>> 3);
      const s1 = turned(y, 17) ^ turned(y, 19) ^ (y >>> 10);
      w[t] = w[t - 16] + s0 + w[t - 7] + s1;
    }
    let [a, b, c, d, e, f, g, h] = this.#state;
    for (let t = 0; t < 64; t += 1) {
      const s1 = turned(e, 6) ^ turned(e, 11) ^ turned(e, 25);
      const one = (h + s1 + ((e & f) ^ (~e & g)) + K[t] + w[t]) | 0;
      const s0 = turned(a, 2) ^ turned(a, 13) ^ turned(a, 22);
      const two = (s0 + ((a & b) ^ (a & c) ^ (b & c))) | 0;
      [h, g, f, e, d, c, b, a] = [g, f, e, (d + one) | 0, c, b, a, (one + two) | 0];
    }
    const state = this.#state;
    [a, b, c, d, e, f, g, h].forEach((word, k) => (state[k] += word));
  }
}

/**
 * The hash of a file, without holding up the page: between pieces the browser does what else it has
 * to do.
 *
 * @param {Blob} file
 * @returns {Promise<string>} rejects if the file can no longer be read
 */
export async function sha256Of(file) {
  const hash = new Sha256();
  for (let at = 0; at < file.size; at += PIECE_BYTES) {
    hash.take(new Uint8Array(await file.slice(at, at + PIECE_BYTES).arrayBuffer()));
  }
  return hash.finish();
}
