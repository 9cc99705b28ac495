// The page of what waits on this device: each entry with its state, what was typed, and what can be done about it.
(() => {
  const { dataset } = document.body;
  const list = document.querySelector("[data-entries]");
  const none = document.querySelector("[data-none]");
  const says = document.querySelector("[data-list-says]");
  const template = document.querySelector("[data-entry]");

  function put(item, name, text) {
    item.querySelector(`[data-${name}]`).textContent = text;
  }

  function stateOf(entry, entries) {
    if (entry.state !== "waiting") return entry.state;
    const earlier = entries.filter((one) => one.number < entry.number && one.state !== "sent");
    if (earlier.some((one) => Sender.needs(entry, one))) return "held";
    return entry.tries ? "busy" : "waiting";
  }

  function shown(entry, entries) {
    const item = template.content.firstElementChild.cloneNode(true);
    const state = stateOf(entry, entries);
    item.id = entry.key;
    item.dataset.state = state;
    put(item, "words", entry.words);
    put(item, "made", Entries.clock(new Date(entry.madeAt)));
    put(item, "state-words", list.dataset[state]);
    for (const [name, value] of entry.told) {
      const line = document.createElement("li");
      line.textContent = `${name}: ${value}`;
      item.querySelector("[data-told]").append(line);
    }
    for (const text of [...entry.reasons.map(({ message }) => message), ...(entry.said ?? [])]) {
      const line = document.createElement("p");
      line.textContent = text;
      item.querySelector("[data-reasons]").append(line);
    }
    const open = item.querySelector("[data-open]");
    if (state === "sent") open.href = entry.url;
    open.hidden = state !== "sent" || !entry.url;
    const mend = item.querySelector("[data-mend]");
    mend.href = `${entry.page}#mend=${entry.key}`;
    mend.hidden = entry.state !== "refused";
    item.querySelector("[data-dropping]").hidden = state === "sent";
    item.querySelector("[data-drop]").addEventListener("click", () => Entries.drop(entry.key));
    return item;
  }

  async function show() {
    const all = await Entries.all();
    const entries = all.filter((entry) => entry.person === dataset.person);
    const unfolded = new Set([...list.querySelectorAll("details[open]")].map((one) => one.closest("li").id));
    const focused = document.activeElement?.closest("[data-entries] li")?.id;
    list.replaceChildren(...entries.map((entry) => shown(entry, entries)));
    for (const id of unfolded) document.getElementById(id)?.querySelector("details")?.setAttribute("open", "");
    if (focused) (document.getElementById(focused)?.querySelector("a:not([hidden]), summary") ?? list).focus?.();
    none.hidden = entries.length > 0;
    const others = all.filter((entry) => entry.person !== dataset.person && entry.state !== "sent");
    const note = document.querySelector("[data-others]");
    note.hidden = others.length === 0;
    const names = [...new Set(others.map((entry) => entry.name))].join(", ");
    note.textContent = note.dataset.others.replace("%", others.length).replace("{name}", names);
  }

  async function space() {
    const room = document.querySelector("[data-space]");
    const estimate = await navigator.storage?.estimate?.().catch(() => null);
    if (!estimate?.quota) return;
    const [used, left] = [estimate.usage, estimate.quota].map((bytes) => (bytes / 1e6).toFixed(bytes < 1e7 ? 1 : 0));
    const isKept = await navigator.storage.persisted?.();
    room.textContent = `${room.dataset.space.replace("{used}", used).replace("{left}", left)} `
      + (isKept ? room.dataset.persisted : room.dataset.unpersisted);
  }

  async function send() {
    says.textContent = says.dataset.sending;
    for (const entry of await Entries.all()) if (entry.tries) await Entries.change(entry.key, { tries: 0 });
    const outcome = await Sender.run();
    if (outcome !== "network") document.dispatchEvent(new Event("answered"));
    says.textContent = says.dataset[outcome.replace("-", "")];
    document.querySelector("[data-sign-in]").hidden = outcome !== "sign-in";
  }

  // A photo stands in the file as an address that holds it whole, which any browser opens.
  function asAddress(photo) {
    return new Promise((resolve) => {
      const reader = new FileReader();
      reader.onload = () => resolve(reader.result);
      reader.readAsDataURL(photo);
    });
  }

  async function download() {
    const entries = (await Entries.all()).filter((entry) => entry.person === dataset.person);
    for (const { fields } of entries) {
      for (const field of fields) if (field[1] instanceof Blob) field[1] = await asAddress(field[1]);
    }
    const file = new Blob([JSON.stringify({ entries }, null, 2)], { type: "application/json" });
    const link = Object.assign(document.createElement("a"), { href: URL.createObjectURL(file) });
    link.download = "waiting-entries.json";
    link.click();
    URL.revokeObjectURL(link.href);
  }

  // For a device whose copies are broken: everything but the entries goes, and the next page with a network begins anew.
  async function forget() {
    for (const name of await caches.keys()) await caches.delete(name);
    for (const worker of await navigator.serviceWorker.getRegistrations()) await worker.unregister();
    says.textContent = says.dataset.forgotten;
  }

  document.querySelector("[data-send]").addEventListener("click", send);
  document.querySelector("[data-download]").addEventListener("click", download);
  document.querySelector("[data-forget]").addEventListener("click", forget);
  Entries.onChange(show);
  show();
  space();
})();
