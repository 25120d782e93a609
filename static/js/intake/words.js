// What is said of a photo on its way, and of all of them.

const photos = (count) => (count === 1 ? "1 photo" : `${count} photos`);

export function stateWords({ state, share, sentence, answer, isLoose = false }) {
  switch (state) {
    case "sending":
      return share < 1 ? `Sending ${Math.floor(100 * share)} %` : "Sent, being looked at";
    case "saved":
      return [`Saved. ${answer.scale_words}.`, answer.note].filter(Boolean).join(" ");
    case "known":
      return "Already here";
    case "refused":
      return `Not saved. ${sentence} ${isLoose ? "Keep this page open" : "It is kept here"} until you try again or throw it away.`;
    case "away":
      return `Not sent yet. ${sentence}; it is tried again by itself.`;
    default:
      return "Waiting";
  }
}

/** `isLoose`: this browser keeps nothing, so what is not sent lives in the page alone. */
export function summaryWords({ saved, unsent, refused, isLoose = false }) {
  const total = saved + unsent + refused;
  if (!total) return "Every photo of this browser has been sent.";
  const parts = [`${saved} of ${photos(total)} saved.`];
  if (unsent && isLoose) parts.push("Keep this page open: this browser keeps nothing.");
  else if (unsent) parts.push(`${photos(unsent)} kept here until sent.`);
  if (refused) parts.push(`${photos(refused)} not saved.`);
  return parts.join(" ");
}

export const waitingWords = (count) =>
  `${photos(count)} taken here ${count === 1 ? "has" : "have"} not reached the workshop’s computer yet.`;
