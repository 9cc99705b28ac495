// Sends the entries in their order, one sender at a time on this device, each as the person who made it and nobody else.
const Sender = (() => {
  const PATIENCE_MS = 30000;
  const FIRST_PAUSE_MS = 200;
  const LONGEST_PAUSE_MS = 1600;
  const MOST_TRIES = 5;
  const TOKEN = "/outbox/token/";

  // Whether an entry has to wait for an earlier one: both belong to one job, and not to two different parts of it.
  function needs(entry, earlier) {
    if (!entry.job || entry.job !== earlier.job) return false;
    return !entry.part || !earlier.part || entry.part === earlier.part;
  }

  // Whether somebody is about to see the next page: another page or the worker may send an entry that its own page follows.
  function isSeen(entry, shownKey) {
    return entry.key === shownKey || (entry.followedUntil ?? 0) > Date.now();
  }

  // The token is asked for anew: the one in a form that waited overnight is too old.
  async function askPass() {
    const answer = await fetch(TOKEN, { cache: "no-store", signal: AbortSignal.timeout(PATIENCE_MS) });
    if (!answer.ok) throw new Error("no pass");
    return answer.json();
  }

  // Texts alone are sent as a form sends them; with a photo among them, in parts.
  function bodyOf(fields) {
    if (!fields.some(([, value]) => value instanceof Blob)) return new URLSearchParams(fields);
    const body = new FormData();
    for (const [name, value] of fields) {
      if (value instanceof Blob) body.append(name, value, "photo.jpg");
      else body.append(name, value);
    }
    return body;
  }

  async function post(entry, pass, isShown) {
    const fields = entry.fields.filter(([name]) => name !== "csrfmiddlewaretoken");
    const answer = await fetch(entry.url, {
      method: "POST",
      body: bodyOf(fields),
      redirect: "manual",
      cache: "no-store",
      signal: AbortSignal.timeout(PATIENCE_MS),
      headers: {
        "X-CSRFToken": pass.token,
        "Outbox": isShown ? "shown" : "waiting",
        "Outbox-Person": entry.person,
        "Outbox-Made": new Date(entry.madeAt).toISOString(),
      },
    });
    if (answer.status >= 500 || answer.status === 429) return { isBusy: true, status: answer.status };
    const isOurs = answer.headers.get("Content-Type")?.startsWith("application/json");
    // What is not ours comes from something in between, such as the sign-in page of a guest network.
    return isOurs ? answer.json() : { isBusy: true, status: answer.status };
  }

  // A service at its limit is asked again after a moment, so that the order stands.
  async function insist(entry, pass, isShown) {
    for (let pause = FIRST_PAUSE_MS; ; pause *= 2) {
      const said = await post(entry, pass, isShown);
      if (!said.isBusy || pause > LONGEST_PAUSE_MS) return said;
      await new Promise((done) => { setTimeout(done, pause); });
    }
  }

  async function settle(entry, said) {
    if ("stored" in said) {
      await Entries.change(entry.key, {
        state: "sent", sentAt: Date.now(), url: said.stored, said: said.said, fields: [], reasons: [],
      });
      return "sent";
    }
    if ("refused" in said) {
      await Entries.change(entry.key, { state: "refused", reasons: said.refused });
      return "refused";
    }
    if (said.isBusy) await Entries.change(entry.key, { tries: (entry.tries ?? 0) + 1, lastStatus: said.status });
    return said.wait ?? "busy";
  }

  // Returns why it stopped: "done", "sign-in", "person", "network", or "busy" where the service was at its limit.
  async function sendInOrder(shownKey) {
    let pass = await askPass();
    if (!pass.person) return "sign-in";
    const open = (await Entries.all()).filter((entry) => entry.state !== "sent");
    const mine = open.filter((entry) => entry.person === pass.person);
    const stuck = [];
    let result = mine.length || !open.length ? "done" : "person";
    for (const { key } of mine) {
      const entry = await Entries.get(key);
      if (!entry || entry.state === "sent") continue;
      if (entry.state === "refused" || stuck.some((earlier) => needs(entry, earlier))) {
        stuck.push(entry);
        continue;
      }
      let outcome = await settle(entry, await insist(entry, pass, isSeen(entry, shownKey)));
      if (outcome === "token") {
        pass = await askPass();
        outcome = await settle(entry, await insist(entry, pass, isSeen(entry, shownKey)));
      }
      if (["sign-in", "person", "token"].includes(outcome)) return outcome;
      // The order stands for a while; an entry the service never gets through does not hold up the others for good.
      if (outcome === "busy" && (entry.tries ?? 0) < MOST_TRIES) return "busy";
      if (outcome === "busy") result = "busy";
      if (outcome !== "sent") stuck.push(entry);
    }
    return result;
  }

  function alone(work) {
    return navigator.locks ? navigator.locks.request("outbox", work) : work();
  }

  return {
    run: (shownKey) => alone(async () => {
      try {
        return await sendInOrder(shownKey);
      } catch {
        return "network";
      }
    }),
    // For an entry the device could not keep: sent once, and its fate told to the page that still shows it.
    sendUnkept: async (entry) => {
      try {
        const pass = await askPass();
        return pass.person === entry.person ? await post(entry, pass, true) : { wait: "person" };
      } catch {
        return { wait: "network" };
      }
    },
    askPass,
    needs,
  };
})();
