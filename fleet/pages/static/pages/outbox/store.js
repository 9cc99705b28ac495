// The entries kept on this device until the service has them: one IndexedDB store, shared by pages and service worker.
// An entry: number (its place in the order), key (the form's, so that sent twice is stored once), person and name (who
// made it, and who alone sends it), url, fields, words, told, page, job and part (what it waits for), state.
const Entries = (() => {
  const SENT_KEPT_MS = 24 * 3600 * 1000;
  const channel = "BroadcastChannel" in self ? new BroadcastChannel("outbox") : null;
  const listeners = new Set();
  let opened = null;
  let telling = null;

  function database() {
    opened ??= new Promise((resolve, reject) => {
      const request = indexedDB.open("outbox", 1);
      request.onupgradeneeded = () => {
        const entries = request.result.createObjectStore("entries", { keyPath: "number", autoIncrement: true });
        entries.createIndex("key", "key", { unique: true });
      };
      request.onsuccess = () => {
        // A browser that needs the space, or a newer release, closes the store: it is opened again when asked next.
        request.result.onclose = () => { opened = null; };
        request.result.onversionchange = () => { request.result.close(); opened = null; };
        resolve(request.result);
      };
      request.onerror = () => { opened = null; reject(request.error); };
    });
    return opened;
  }

  // Resolves once the transaction is complete, not when its request succeeded: only then is the entry on the disk.
  async function within(mode, work) {
    const transaction = (await database()).transaction("entries", mode, { durability: "strict" });
    return new Promise((resolve, reject) => {
      const request = work(transaction.objectStore("entries"));
      transaction.oncomplete = () => resolve(request?.result);
      transaction.onabort = () => reject(transaction.error ?? new DOMException("not stored", "AbortError"));
    });
  }

  // Several changes in a row are told once: a page that lists hundreds of entries is not drawn anew for each.
  function tell() {
    telling ??= setTimeout(() => {
      telling = null;
      for (const listener of listeners) listener();
    }, 150);
  }

  async function write(work) {
    await within("readwrite", work);
    channel?.postMessage("changed");
    tell();
  }

  if (channel) channel.onmessage = tell;

  // A moment on this device's own clock, with its date unless it is today's.
  function clock(moment) {
    const isToday = moment.toDateString() === new Date().toDateString();
    const day = isToday ? {} : { day: "numeric", month: "short", year: "numeric" };
    return moment.toLocaleString("en-GB", { ...day, hour: "numeric", minute: "2-digit" });
  }

  return {
    // An entry mended keeps its place in the order.
    add: (entry) => write((entries) => {
      const earlier = entries.index("key").get(entry.key);
      earlier.onsuccess = () => {
        entries.put(earlier.result ? { ...entry, number: earlier.result.number } : entry);
      };
    }),
    all: () => within("readonly", (entries) => entries.getAll()),
    get: (key) => within("readonly", (entries) => entries.index("key").get(key)),
    // Changes an entry that is still there: what somebody dropped meanwhile does not come back.
    change: (key, changes) => write((entries) => {
      const found = entries.index("key").get(key);
      found.onsuccess = () => {
        if (found.result) entries.put({ ...found.result, ...changes });
      };
    }),
    drop: (key) => write((entries) => {
      const found = entries.index("key").getKey(key);
      found.onsuccess = () => {
        if (found.result !== undefined) entries.delete(found.result);
      };
    }),
    dropSent: (now) => write((entries) => {
      const walk = entries.openCursor();
      walk.onsuccess = () => {
        if (!walk.result) return;
        const { state, sentAt } = walk.result.value;
        if (state === "sent" && now - sentAt > SENT_KEPT_MS) walk.result.delete();
        walk.result.continue();
      };
    }),
    clock,
    onChange: (listener) => listeners.add(listener),
  };
})();
