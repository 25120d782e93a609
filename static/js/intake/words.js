// What is said of a photo on its way, and of all of them.

const photos = (count) => (count === 1 ? "1 photo" : `${count} photos`);

export function stateWords({ state, share, sentence, answer }) {
  switch (state) {
    case "sending":
      return share < 1 ? `Sending ${Math.floor(100 * share)} %` : "Sent, being looked at";
    case "saved":
      return `Saved. ${answer.scale_words}.`;
    case "known":
      return "Already here";
    case "refused":
      return `Not saved. ${sentence}`;
    case "away":
      return `Not sent yet. ${sentence}; it is tried again by itself.`;
    default:
      return "Waiting";
  }
}

export function summaryWords({ saved, unsent, refused }) {
  const total = saved + unsent + refused;
  const parts = [`${saved} of ${photos(total)} saved.`];
  if (unsent) parts.push("Keep this page open.");
  if (refused) parts.push(`${photos(refused)} not saved.`);
  return parts.join(" ");
}
