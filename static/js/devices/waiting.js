// A phone at the door: asks how it stands, and goes on once it was let in.

const ASK_EVERY_MS = 2000;

async function ask() {
  try {
    const answer = await fetch(location.pathname, { headers: { Accept: "application/json" } });
    const { standing } = await answer.json();
    if (standing === "allowed") {
      document.querySelector("#waiting form").submit();
      return;
    }
    if (standing === "over") {
      location.reload(); // says what to do
      return;
    }
  } catch {
    // The Wi-Fi is away; asking again costs nothing.
  }
  setTimeout(ask, ASK_EVERY_MS);
}

setTimeout(ask, ASK_EVERY_MS);
