// Says who has to sign in for what waits on this device; what it is, only they see.
(async () => {
  const note = document.querySelector("[data-left]");
  const entries = (await Entries.all().catch(() => [])).filter((entry) => entry.state !== "sent");
  if (!entries.length) return;
  const names = [...new Set(entries.map((entry) => entry.name))].join(" or ");
  const words = entries.length === 1 ? note.dataset.one : note.dataset.many.replace("%", entries.length);
  note.textContent = words.replace("{name}", names);
  note.hidden = false;
})();
