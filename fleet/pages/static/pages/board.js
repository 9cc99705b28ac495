// Looks every half minute what is in force, and changes the board in place. When nothing comes back, it says how old it is.
(() => {
  const EVERY_MS = 30000;
  const OLD_MIN = 2;
  const says = document.querySelector("[data-board-age]");
  let seen = performance.now();

  async function look() {
    try {
      const answer = await fetch(location.href, { cache: "no-store", signal: AbortSignal.timeout(15000) });
      if (answer.ok) {
        const fresh = new DOMParser().parseFromString(await answer.text(), "text/html");
        const old = document.querySelector("main");
        const now = fresh.querySelector("main");
        if (now && now.innerHTML !== old.innerHTML) {
          old.replaceWith(now);
          document.title = fresh.title;
          document.body.className = fresh.body.className;
        }
        seen = performance.now();
      }
    } catch {
      // No network, or none for long: the age below says so.
    }
    tell();
  }

  function tell() {
    const minutes = Math.floor((performance.now() - seen) / 60000);
    says.hidden = minutes < OLD_MIN;
    says.textContent = says.hidden ? "" : `No network for ${minutes} minutes: a newer bulletin may be in force. Ask at the desk.`;
  }

  setInterval(look, EVERY_MS);
})();
