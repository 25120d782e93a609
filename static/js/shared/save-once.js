// A form that saves is sent once: a second tap on its button does nothing while the first is on
// its way. Coming back to the page by the Back button wakes the buttons up again.
// A form that answers with a file, so that the page stays, says data-again and is left alone.

const sent = new WeakSet();

function buttonsOf(form) {
  return [...form.elements].filter((element) => element.type === "submit");
}

function hold(form) {
  sent.add(form);
  form.setAttribute("aria-busy", "true");
  // One turn later, for a disabled button is not sent along with its form.
  setTimeout(() => {
    for (const button of buttonsOf(form)) button.disabled = true;
  });
}

function release(form) {
  sent.delete(form);
  form.removeAttribute("aria-busy");
  for (const button of buttonsOf(form)) button.disabled = false;
}

// On the window, so that a screen's own listener has had its say first.
window.addEventListener("submit", (event) => {
  const form = event.target;
  if (form.getAttribute("method")?.toLowerCase() !== "post" || form.hasAttribute("data-again")) return;
  if (sent.has(form)) event.preventDefault();
  else if (!event.defaultPrevented) hold(form);
});

window.addEventListener("pageshow", (event) => {
  if (event.persisted) for (const form of document.forms) if (sent.has(form)) release(form);
});
