// The service worker: keeps the files of this release and the pages a person works with, and shows them with no network.
// VERSION and FILES stand in front of it in /sw.js, so that a new release is a new worker with its own files.
const NO_NETWORK = "/outbox/no-network/";
const FILES_KEPT = `files-${VERSION}`;
const KEPT = /^\/(trailer|garage|outbox)\/|^\/desk\/days\/[^/]+\/gate\//;
const LEFT_ALONE = /^\/(api|b|health|static)\//;
const PATIENCE_MS = 4000;
const FRESH_MS = 20 * 60 * 1000;
const LISTED_MS = 5 * 60 * 1000;
const OLDEST_MS = 7 * 24 * 3600 * 1000;
const MOST_PAGES = 800;
const AT_ONCE = 2;
let lastChange = 0;

// Whose pages this device keeps: what the service said last, "none" when nobody was signed in.
async function whose() {
  return (await (await caches.open("whose")).match("/person"))?.text() ?? "none";
}

function pagesOf(person) {
  return caches.open(`pages-${person}`);
}

async function wipe(person) {
  lastChange = Date.now();
  for (const name of await caches.keys()) {
    if (name.startsWith("pages-") && name !== `pages-${person}`) await caches.delete(name);
  }
  const memory = await caches.open("whose");
  await memory.delete("/listed-at");
  await memory.put("/person", new Response(person));
}

// Every page says whom it was made for. An answer to a question from before a change of person says nothing any more.
async function note(answer, askedAt) {
  const person = answer.headers.get("Outbox-Person");
  if (!person || askedAt < lastChange) return null;
  if (person !== (await whose())) await wipe(person);
  return person === "none" ? null : person;
}

async function keep(url, answer, askedAt) {
  const person = await note(answer, askedAt);
  if (!person || !answer.ok || answer.redirected || !KEPT.test(new URL(url).pathname)) return;
  if (!answer.headers.get("Content-Type")?.startsWith("text/html")) return;
  const headers = new Headers(answer.headers);
  headers.set("Kept-At", new Date().toISOString());
  const copy = new Response(await answer.blob(), { status: 200, headers });
  // A full storage loses the copy, never an entry: those are kept elsewhere and told when they cannot be.
  await (await pagesOf(person)).put(url, copy).catch(() => {});
}

// A copy says in its body since when it stands; its script says it to the person.
async function copyOf(url, options = {}) {
  const person = await whose();
  if (person === "none") return null;
  const copy = await (await pagesOf(person)).match(url, { ignoreVary: true, ...options });
  if (!copy) return null;
  const text = await copy.text();
  return new Response(text.replace("<body", `<body data-kept-at="${copy.headers.get("Kept-At")}"`), {
    headers: copy.headers,
  });
}

// The lists that answer what a page was asked, for questions nobody asked while there was a network.
function listsFor(pathname) {
  const [gate] = pathname.match(/^\/desk\/days\/[^/]+\/gate\//) ?? [];
  if (gate) return [`${gate}list/`];
  if (pathname === "/trailer/riders/") return ["/trailer/expected/"];
  return pathname === "/" ? ["/trailer/", "/garage/"] : [];
}

// The page itself, else the list that answers its question, else the same page asked another one.
async function nearest(url) {
  const { pathname, href } = new URL(url);
  for (const address of [href, ...listsFor(pathname)]) {
    const copy = await copyOf(address);
    if (copy) return copy;
  }
  return copyOf(href, { ignoreSearch: true });
}

async function shell(name) {
  return (await caches.match(name, { cacheName: FILES_KEPT })) ?? Response.error();
}

// What stands in front of a service that is down answers in its place, and knows nothing of persons.
function isOfNobody(answer) {
  return answer.status >= 502 && !answer.headers.get("Outbox-Person");
}

async function page(event) {
  const { request } = event;
  const askedAt = Date.now();
  const answered = fetch(request);
  const kept = answered.then((answer) => answer.type === "basic" && keep(request.url, answer.clone(), askedAt));
  event.waitUntil(kept.catch(() => {}));
  const late = new Promise((resolve) => { setTimeout(resolve, PATIENCE_MS); });
  try {
    const answer = await Promise.race([answered, late]);
    if (answer && !isOfNobody(answer)) return answer;
    return (await nearest(request.url)) ?? (await answered);
  } catch {
    return (await nearest(request.url)) ?? shell(`${NO_NETWORK}page/`);
  }
}

// Leaving takes the copies along even with no network; the service hears of it when it can be reached.
async function signOut(request) {
  await wipe("none");
  return fetch(request).catch(() => shell(`${NO_NETWORK}sign-out/`));
}

async function file(request) {
  const kept = await caches.match(request, { cacheName: FILES_KEPT, ignoreVary: true });
  return kept ?? fetch(request);
}

async function keepOne(address) {
  const url = new URL(address, location.origin).href;
  const copy = await (await pagesOf(await whose())).match(url, { ignoreVary: true });
  if (copy && Date.now() - new Date(copy.headers.get("Kept-At")) < FRESH_MS) return;
  const askedAt = Date.now();
  const answer = await fetch(url, { headers: { "Outbox-Copy": "1" }, redirect: "manual", cache: "no-store" });
  if (answer.type === "basic") await keep(url, answer, askedAt);
}

// Keeps the pages the service names, a few at a time; the first that fails ends it, for the network is gone then.
async function keepAll(list, here) {
  const memory = await caches.open("whose");
  const listedAt = Number(await (await memory.match("/listed-at"))?.text() ?? 0);
  if (!here && Date.now() - listedAt < LISTED_MS) return;
  const askedAt = Date.now();
  const answer = await fetch(list, { cache: "no-store" });
  if (!answer.ok || !(await note(answer, askedAt))) return;
  const { addresses } = await answer.json();
  const queue = here ? [here, ...addresses] : addresses;
  const work = async () => {
    while (queue.length) await keepOne(queue.shift());
  };
  await Promise.all(Array.from({ length: AT_ONCE }, work));
  await prune();
  await memory.put("/listed-at", new Response(String(Date.now())));
}

async function prune() {
  const pages = await pagesOf(await whose());
  const found = [];
  for (const request of await pages.keys()) {
    const copy = await pages.match(request, { ignoreVary: true });
    found.push({ request, at: new Date(copy?.headers.get("Kept-At") ?? 0).getTime() });
  }
  found.sort((one, other) => other.at - one.at);
  const old = found.filter(({ at }, place) => place >= MOST_PAGES || Date.now() - at > OLDEST_MS);
  await Promise.all(old.map(({ request }) => pages.delete(request)));
}

async function keepFiles() {
  const files = await caches.open(FILES_KEPT);
  await Promise.all(FILES.map((url) => files.add(new Request(url, { cache: "reload" }))));
  await self.skipWaiting();
}

async function takeOver() {
  for (const name of await caches.keys()) {
    if (name.startsWith("files-") && name !== FILES_KEPT) await caches.delete(name);
  }
  await prune();
  await self.clients.claim();
}

async function sendWaiting() {
  const outcome = await Sender.run();
  // A failure asks the browser to try again by itself.
  if (outcome === "network" || outcome === "busy") throw new Error(outcome);
}

let keeping = null;
addEventListener("install", (event) => event.waitUntil(keepFiles()));
addEventListener("activate", (event) => event.waitUntil(takeOver()));
addEventListener("sync", (event) => event.waitUntil(sendWaiting()));
addEventListener("message", (event) => {
  if (!event.data?.keep) return;
  keeping ??= keepAll(event.data.keep, event.data.here).catch(() => {}).finally(() => { keeping = null; });
  event.waitUntil(keeping);
});
addEventListener("fetch", (event) => {
  const { request } = event;
  const { origin, pathname } = new URL(request.url);
  if (origin !== location.origin) return;
  if (request.method === "GET" && FILES.includes(pathname)) event.respondWith(file(request));
  if (request.mode !== "navigate" || LEFT_ALONE.test(pathname)) return;
  if (request.method === "GET") event.respondWith(page(event));
  else if (pathname === "/sign-out/") event.respondWith(signOut(request));
  else event.respondWith(fetch(request).catch(() => shell(`${NO_NETWORK}sending/`)));
});
