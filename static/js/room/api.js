// Talking to the records: one place that knows addresses, headers and what can go wrong.

const PATIENCE_MS = 30_000;
const MEASURING_PATIENCE_MS = 300_000;

/** What is so and what to do, from the server or because it was not reached (`isAway`). */
export class Fault extends Error {
  constructor({ what, do: doThis, field = null, isAway = false }) {
    super(`${what}: ${doThis}.`);
    this.what = what;
    this.do = doThis;
    this.field = field;
    this.isAway = isAway;
  }
}

const AWAY = {
  what: "The workshop's computer was not reached",
  do: "what you drew is kept here; try again when the Wi-Fi is back",
  isAway: true,
};
const BROKEN = { what: "Something broke on the workshop's computer", do: "try again in a moment" };
const TURNED_AWAY = { what: "This page has been open too long", do: "load it again; unsent marks are kept" };

async function readFault(response) {
  const said = await response.json().catch(() => null);
  if (said?.what) return new Fault({ ...said, isAway: response.status >= 502 });
  if (response.status >= 502) return new Fault(AWAY);
  return new Fault(response.status >= 500 ? BROKEN : TURNED_AWAY);
}

export class RoomApi {
  #base;
  #token;

  /** @param {string} base  address of the photo, such as /photos/7 */
  constructor(base, token) {
    this.#base = base;
    this.#token = token;
  }

  state = () => this.#ask("/state");
  addMark = (mark) => this.#send("/marks", mark);
  editMark = (id, change) => this.#send(`/marks/${id}`, change);
  deleteMark = (id) => this.#send(`/marks/${id}/delete`);
  restoreMark = (id) => this.#send(`/marks/${id}/restore`);
  setScale = (scale) => this.#send("/scale", scale);
  saveDetails = (details) => this.#send("/details", details);
  rejected = (id) => this.#ask(`/measurements/${id}/rejected`);
  voidBySize = (id, rank) => this.#ask(`/measurements/${id}/void?${new URLSearchParams({ rank })}`);
  voidAt = (id, [x, y], reach) => this.#ask(`/measurements/${id}/void?${new URLSearchParams({ x, y, reach })}`);
  suggestions = (id) => this.#ask(`/measurements/${id}/suggestions`);
  measure = (settings) => this.#send("/measurements", settings, MEASURING_PATIENCE_MS);

  /** The evened surface as bytes, to try thresholds on. */
  live = (settings) => this.#send("/live", settings, MEASURING_PATIENCE_MS, (answer) => answer.arrayBuffer());

  #send(path, body = {}, patience = PATIENCE_MS, read = undefined) {
    return this.#ask(path, {
      read,
      method: "POST",
      body: JSON.stringify(body),
      headers: { "Content-Type": "application/json", "X-CSRFToken": this.#token },
      patience,
    });
  }

  async #ask(path, { headers = {}, patience = PATIENCE_MS, read = (answer) => answer.json(), ...rest } = {}) {
    let response;
    try {
      response = await fetch(this.#base + path, {
        ...rest,
        headers: { Accept: "application/json", ...headers },
        signal: AbortSignal.timeout(patience),
      });
    } catch {
      throw new Fault(AWAY);
    }
    if (!response.ok) throw await readFault(response);
    try {
      return await read(response);
    } catch {
      throw new Fault(AWAY); // the answer was cut off on its way
    }
  }
}
