// The list for the gate, when a number is asked of it: with no network the gate's question ends here.
(() => {
  const asked = new URLSearchParams(location.search).get("number")?.trim().toLowerCase();
  const form = document.querySelector("[data-by-number]");
  if (!asked) return;
  if (form) form.elements.number.value ||= asked;
  const rows = [...document.querySelectorAll("[data-number]")];
  for (const row of rows) row.hidden = row.dataset.number.toLowerCase() !== asked;
  // Somebody nobody knows the tires of may still be looked at: the whole list stays when nothing matches.
  if (rows.every((row) => row.hidden)) for (const row of rows) row.hidden = false;
})();
