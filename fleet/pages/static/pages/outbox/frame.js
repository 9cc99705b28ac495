// What every signed-in page has of the outbox: how many entries wait, the word that a page is a copy, and the sender's rounds.
(() => {
  const FIRST_PAUSE_MS = 5000;
  const LONGEST_PAUSE_MS = 60000;
  const KEEP_AFTER_MS = 1500;
  const { dataset } = document.body;
  const counter = document.querySelector("[data-waits]");
  let pause = FIRST_PAUSE_MS;
  let timer = null;

  function words(count, name) {
    const { [`${name}One`]: one, [`${name}Many`]: many } = counter.dataset;
    return count === 0 ? [] : [count === 1 ? one : many.replace("%", count)];
  }

  async function count() {
    const entries = await Entries.all().catch(() => []);
    const open = entries.filter((entry) => entry.state !== "sent" && (!dataset.person || entry.person === dataset.person));
    const refused = open.filter((entry) => entry.state === "refused").length;
    const names = [...new Set(open.map((entry) => entry.name))].join(", ");
    counter.hidden = open.length === 0;
    const said = [...words(open.length - refused, "waits"), ...words(refused, "refused")].join(" · ");
    counter.querySelector("[data-waits-words]").textContent = said.replace("{name}", names);
    return open.length - refused;
  }

  // Says on a copy when it was made, and takes away what the page said at that moment only.
  function sayCopy(hasNetwork) {
    if (!dataset.keptAt) return;
    document.querySelector("[data-said]")?.remove();
    const note = document.querySelector("[data-copy]");
    const isFrame = document.body.classList.contains("is-frame");
    const words = hasNetwork ? note.dataset.again : isFrame ? note.dataset.frame : note.dataset.copy;
    note.querySelector("[data-copy-words]").textContent = words.replace("{when}", Entries.clock(new Date(dataset.keptAt)));
    note.hidden = isFrame && hasNetwork;
  }

  function schedule() {
    timer ??= setTimeout(round, pause);
  }

  // Whether there is a network, only a request that was answered tells.
  async function round() {
    clearTimeout(timer);
    timer = null;
    if (!dataset.person || !(await count())) return;
    const outcome = await Sender.run();
    sayCopy(outcome !== "network");
    pause = outcome === "done" ? FIRST_PAUSE_MS : Math.min(pause * 2, LONGEST_PAUSE_MS);
    if (await count()) schedule();
  }

  function now() {
    pause = FIRST_PAUSE_MS;
    round();
  }

  Entries.onChange(async () => {
    if (await count()) schedule();
  });
  sayCopy(false);
  document.addEventListener("answered", () => sayCopy(true));
  Entries.dropSent(Date.now()).catch(() => {});
  now();
  addEventListener("online", now);
  document.addEventListener("visibilitychange", () => { if (!document.hidden) now(); });

  if ("serviceWorker" in navigator && dataset.worker) {
    navigator.serviceWorker.register(dataset.worker, { updateViaCache: "none" }).catch(() => {});
    // Once the page stands, so that what is kept for later does not hold up what is needed now. A page that was opened
    // before there was a worker is named, since no worker saw it pass.
    const here = navigator.serviceWorker.controller ? null : location.href;
    setTimeout(async () => {
      const { active } = await navigator.serviceWorker.ready;
      active.postMessage({ keep: dataset.keep, here });
    }, KEEP_AFTER_MS);
  }
})();
