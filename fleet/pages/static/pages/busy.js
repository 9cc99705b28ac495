// A form whose answer takes a while says so on its button, which is pressed once.
for (const form of document.querySelectorAll("form[data-busy]")) {
  form.addEventListener("submit", () => {
    // What is sent is gathered first: a disabled button would not be part of it.
    setTimeout(() => {
      const button = form.querySelector("button.is-main");
      button.disabled = true;
      button.textContent = form.dataset.busy;
    });
  });
}
// Back from the answer, a page the browser kept would still say it.
addEventListener("pageshow", (event) => { if (event.persisted) location.reload(); });
