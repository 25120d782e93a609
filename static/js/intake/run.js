// A run round the part: after each photo the next face is chosen, until every main face is taken.

const ROUND = ["tool side", "bag side", "edge"];

/** The face to photograph next: the first of the round not taken yet, else the one just taken. */
export function nextFace(taken, justTaken) {
  return ROUND.find((face) => !taken.get(face)) ?? justTaken;
}

export function takeWords(face) {
  return face === "other" ? "Take something else" : `Take the ${face}`;
}

function start(form) {
  const taken = new Map();
  const button = form.querySelector("[data-run-take]");
  const say = () => {
    button.textContent = takeWords(new FormData(form).get("face"));
  };
  form.addEventListener("change", say);
  form.addEventListener("taken", ({ detail: { face, count } }) => {
    taken.set(face, (taken.get(face) ?? 0) + count);
    const place = form.querySelector(`[data-run-count="${CSS.escape(face)}"]`);
    place.textContent = `${taken.get(face)} taken`;
    form.elements.face.value = nextFace(taken, face);
    say();
  });
  say();
}

if (globalThis.document) for (const form of document.querySelectorAll("form[data-run]")) start(form);
