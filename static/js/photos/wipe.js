// The earlier photo lies over the later one and is wiped off it: by the slider, by a finger or the
// mouse on the picture, or by the arrow keys on the slider.

const pair = document.querySelector("[data-pair]");
const slider = document.querySelector("[data-wipe]");

function reach(percent) {
  const held = Math.min(100, Math.max(0, percent));
  slider.value = String(held);
  slider.setAttribute("aria-valuetext", `${Math.round(held)} per cent before, the rest after`);
  pair.style.setProperty("--reach", `${held}%`);
}

function show(view) {
  pair.dataset.shows = view;
  document.querySelector("[data-wiper]").hidden = view !== "wipe";
  for (const button of document.querySelectorAll("[data-view]")) {
    button.setAttribute("aria-pressed", String(button.dataset.view === view));
  }
}

if (slider) {
  const follow = (event) => {
    const { left, width } = pair.querySelector(".pair__after img").getBoundingClientRect();
    reach((100 * (event.clientX - left)) / width);
  };
  pair.addEventListener("pointerdown", (event) => {
    if (pair.dataset.shows !== "wipe" || event.target.closest("a")) return;
    pair.setPointerCapture(event.pointerId);
    follow(event);
  });
  pair.addEventListener("pointermove", (event) => {
    if (pair.hasPointerCapture(event.pointerId)) follow(event);
  });
  slider.addEventListener("input", () => reach(Number(slider.value)));
  document.querySelector("[data-views]").hidden = false;
  for (const button of document.querySelectorAll("[data-view]")) {
    button.addEventListener("click", () => show(button.dataset.view));
  }
  reach(50);
  show("wipe");
}
