// Narrows the list of expected riders to what was typed; with no network the finder's question ends here.
(() => {
  const rows = [...document.querySelectorAll("[data-text]")];
  const says = document.querySelector("[data-found]");
  const input = document.querySelector(".finder input[name=who]");
  if (!says) return;

  function narrow() {
    const asked = input.value.trim().toLowerCase();
    let count = 0;
    for (const row of rows) {
      // A number is meant whole: 7 is not 27. Anything else may be the beginning of a name or a code.
      const words = row.dataset.text.split(" ");
      const isMeant = /^\d+$/.test(asked) ? words[0] === asked : row.dataset.text.includes(asked);
      row.hidden = !isMeant;
      count += isMeant;
    }
    says.textContent = count ? "" : says.dataset.nobody;
    says.hidden = count > 0;
  }

  const who = new URLSearchParams(location.search).get("who");
  if (who !== null) input.value = who;
  input.addEventListener("input", narrow);
  narrow();
})();
