// Reveals the print button; without script the browser's own menu prints the same page.
for (const button of document.querySelectorAll("[data-print]")) {
  button.hidden = false;
  button.addEventListener("click", () => print());
}
