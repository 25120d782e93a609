// Says on the PC's screen, where the code is shown, that the phone is in.

const ASK_EVERY_MS = 2000;
const STOP_AFTER_MS = 6 * 60 * 1000; // the code is good for five minutes

const sheet = document.getElementById("code");
const came = document.getElementById("came");
const begun = Date.now();

async function ask() {
  try {
    const answer = await fetch(sheet.dataset.state, { headers: { Accept: "application/json" } });
    const { words } = answer.ok ? await answer.json() : { words: "" };
    if (words) {
      came.textContent = words;
      came.hidden = false;
      return;
    }
  } catch {
    // The PC sleeps or the app was stopped; asking again costs nothing.
  }
  if (Date.now() - begun < STOP_AFTER_MS) setTimeout(ask, ASK_EVERY_MS);
}

setTimeout(ask, ASK_EVERY_MS);
