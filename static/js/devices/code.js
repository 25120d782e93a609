// Says on the PC's screen, where the code is shown, who brought it, and that the phone is in.

const ASK_EVERY_MS = 2000;
const STOP_AFTER_MS = 10 * 60 * 1000; // the code is good for five minutes, a phone waits for two

const byId = (id) => document.getElementById(id);
const begun = Date.now();

function show({ words, asks, shown }) {
  if (byId("came").textContent === words) return;
  byId("came").textContent = words;
  byId("shown").textContent = shown;
  byId("answer").hidden = !asks;
  byId("asks").hidden = !words;
  if (asks) byId("asks").scrollIntoView({ block: "nearest" });
}

async function ask() {
  try {
    const answer = await fetch(byId("code").dataset.state, { headers: { Accept: "application/json" } });
    if (answer.ok) show(await answer.json());
  } catch {
    // The PC sleeps or the app was stopped; asking again costs nothing.
  }
  if (Date.now() - begun < STOP_AFTER_MS) setTimeout(ask, ASK_EVERY_MS);
}

setTimeout(ask, ASK_EVERY_MS);
