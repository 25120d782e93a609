// What is said of a photo on its way, and of all of them.

const photos = (count) => (count === 1 ? "1 photo" : `${count} photos`);

export function stateWords({ state, share, sentence, answer }) {
  switch (state) {
    case "sending":
      return share < 1 ? `sending ${Math.floor(100 * share)} %` : "sent, being looked at";
    case "saved":
      return `saved. ${answer.scale_words}`;
    case "known":
      return "already here";
    case "refused":
      return `not saved. ${sentence}`;
    case "away":
      return `not sent yet. ${sentence}; it is tried again by itself.`;
    default:
      return "waiting";
  }
}

export function summaryWords({ saved, unsent, refused }) {
  const total = saved + unsent + refused;
  const parts = [`${saved} of ${photos(total)} saved.`];
  if (unsent) parts.push("Keep this page open.");
  if (refused) parts.push(`${photos(refused)} not saved.`);
  return parts.join(" ");
}
