// A button that opens the browser's print window; without script it stays hidden.
for (const button of document.querySelectorAll(".print-page")) {
  button.hidden = false;
  button.addEventListener("click", () => window.print());
}
