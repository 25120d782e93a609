// On every page: photos that wait in this browser are not forgotten.

import { PhotoOutbox } from "./outbox.js";
import { waitingWords } from "./words.js";

const line = document.querySelector("[data-unsent]");
const count = line && !document.querySelector("[data-outbox]") ? await (await PhotoOutbox.open())?.count() : 0;
if (count) {
  line.querySelector("[data-unsent-said]").textContent = waitingWords(count);
  line.hidden = false;
}
