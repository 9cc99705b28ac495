// A ticket as far as this device knows it: what was entered for it here, what comes next, and a slip made from that.
(() => {
  const { dataset } = document.body;
  const job = new URLSearchParams(location.search).get("ticket") ?? "";
  const says = document.querySelector("[data-job-says]");
  const slip = document.querySelector("[data-slip]");
  const template = document.querySelector("[data-slip-entry]");

  function line(entry) {
    const part = template.content.firstElementChild.cloneNode(true);
    part.querySelector("[data-words]").textContent = entry.words;
    for (const [name, value] of entry.told) {
      const row = document.createElement("li");
      row.textContent = `${name}: ${value}`;
      part.querySelector("[data-told]").append(row);
    }
    return part;
  }

  // The forms of the work: by the wheels while the ticket is only here, by the ticket once the service has it.
  function lead(opening, isOpen) {
    for (const link of document.querySelectorAll("[data-work]")) {
      const wheels = opening?.url.match(/^\/trailer\/wheels\/[^/]+\//)?.[0];
      link.hidden = !isOpen && !wheels;
      link.href = isOpen ? `/trailer/tickets/${job}/${link.dataset.work}` : `${wheels}${link.dataset.work}?ticket=${job}`;
    }
    const ticket = document.querySelector("[data-ticket]");
    ticket.hidden = !isOpen;
    ticket.href = `/trailer/tickets/${job}/`;
  }

  async function show() {
    const entries = (await Entries.all()).filter((entry) => entry.job === job && entry.person === dataset.person);
    const opening = entries.find((entry) => entry.key === job);
    const isOpen = entries.length > 0 && (!opening || opening.state === "sent");
    const states = new Set(entries.map((entry) => entry.state));
    const state = states.has("refused") ? "refused" : states.has("waiting") ? "waiting" : "open";
    document.querySelector("[data-unknown]").hidden = entries.length > 0;
    slip.hidden = document.querySelector("[data-known]").hidden = entries.length === 0;
    lead(opening, isOpen);
    if (!entries.length) return;
    says.textContent = says.dataset[state];
    const about = (opening ?? entries[0]).about;
    document.querySelector("[data-rider]").textContent = about;
    document.querySelector("[data-slip-name]").textContent = about;
    document.querySelector("[data-slip-entries]").replaceChildren(...entries.map(line));
  }

  Entries.onChange(show);
  show();
})();
