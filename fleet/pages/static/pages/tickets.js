// Keeps a list as the server has it: asks every few seconds for what changed, and changes only that in the page.
const EVERY_MS = 4000;
const PATIENCE_MS = 10000;

for (const board of document.querySelectorAll("[data-poll]")) watch(board);

// A tap that is sent twice counts once by its key, which the list as it is asked for cannot carry: it would differ each time.
function giveKeys(list) {
  for (const key of list.querySelectorAll("input[name=key]")) key.value ||= crypto.randomUUID?.() ?? "";
}

function watch(board) {
  const says = document.querySelector("[data-poll-says]");
  let { mark, clock } = board.dataset;
  let isHeld = false;
  let waiting = "";

  // What lies under a finger is not moved away from it.
  board.addEventListener("pointerdown", () => { isHeld = true; });
  for (const over of ["pointerup", "pointercancel"]) {
    addEventListener(over, () => setTimeout(() => { isHeld = false; show(); }, 500));
  }
  giveKeys(board);
  addEventListener("online", ask);
  document.addEventListener("visibilitychange", ask);
  setInterval(ask, EVERY_MS);

  let isAsking = false;
  async function ask() {
    if (document.hidden || isAsking) return;
    isAsking = true;
    try {
      const answer = await fetch(board.dataset.poll, {
        headers: { "If-None-Match": mark },
        cache: "no-store",
        signal: AbortSignal.timeout(PATIENCE_MS),
      });
      const now = answer.headers.get("X-Clock");
      if (!now) return tell(says.dataset.out);
      if (answer.status === 200) {
        waiting = await answer.text();
        mark = answer.headers.get("ETag");
        show();
      }
      clock = now;
      if (says.textContent) says.textContent = "";
    } catch {
      tell(says.dataset.then);
    } finally {
      isAsking = false;
    }
  }

  function tell(why) {
    const said = `${says.dataset.stale} ${clock}: ${why}.`;
    if (says.textContent !== said) says.textContent = said;
  }

  function show() {
    if (!waiting || isHeld) return;
    const fresh = document.createElement("template");
    fresh.innerHTML = waiting;
    waiting = "";
    const token = document.querySelector("input[name=csrfmiddlewaretoken]");
    for (const form of fresh.content.querySelectorAll("form")) if (token) form.prepend(token.cloneNode());
    giveKeys(fresh.content);
    const focused = document.activeElement?.id;
    for (const row of fresh.content.querySelectorAll("[id]")) {
      const there = board.querySelector(`[id="${row.id}"]`);
      if (there?.open) row.open = true;
    }
    board.replaceChildren(...fresh.content.childNodes);
    if (focused) document.getElementById(focused)?.focus({ preventScroll: true });
  }
}
