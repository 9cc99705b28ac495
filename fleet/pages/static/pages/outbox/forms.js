// Forms marked data-outbox: stored on this device first, then sent; one path with a network and without.
// Without script they post as ever, and the key in them makes both ways store one entry.
(() => {
  const PATIENCE_MS = 8000;
  const LONGEST_PX = 1600;
  const { dataset } = document.body;
  const address = new URL(location.href);

  // What was typed, in the words of the form, for the list of what waits and for a slip printed before it is sent.
  function told(form) {
    const lines = [];
    for (const control of form.elements) {
      const isMark = ["radio", "checkbox"].includes(control.type);
      if (!control.name || control.type === "hidden" || control.type === "submit") continue;
      if (!control.value || (isMark && !control.checked) || isUntouched(control)) continue;
      const label = control.labels?.[0];
      const title = isMark ? control.closest("fieldset")?.querySelector("legend") ?? label : label;
      const chosen = isMark ? label : control.selectedOptions?.[0];
      const typed = control.files?.[0]?.name ?? control.value.replace("T", " ");
      lines.push([tidy(title), chosen ? tidy(chosen) : typed]);
    }
    return lines;
  }

  // A list left at what it stood on says nothing; a number or a time that was filled in beforehand does.
  function isUntouched(control) {
    const options = [...(control.options ?? [])];
    return options.length > 0 && control.selectedIndex === Math.max(0, options.findIndex((one) => one.defaultSelected));
  }

  // A break within a label stands as a comma: these words are read in one line.
  function tidy(element) {
    return (element?.innerText ?? "").trim().replace(/\s*\n\s*/g, ", ").replace(/\s+/g, " ");
  }

  // A time nobody touched is the time of the button and not of the page, which may be a copy from the morning.
  function setTimes(form, now) {
    for (const control of form.querySelectorAll("[data-now]")) {
      if (control.value !== control.defaultValue) continue;
      const zone = control.dataset.now;
      const clock = new Intl.DateTimeFormat("sv-SE", { timeZone: zone, dateStyle: "short", timeStyle: "short" });
      control.value = clock.format(now).replace(" ", "T");
    }
  }

  // A form without a key gets one: its entry needs a name here, and a page that takes a key stores it once by it.
  function keyIn(form) {
    if (!form.elements.key) {
      form.append(Object.assign(document.createElement("input"), { type: "hidden", name: "key" }));
    }
    form.elements.key.value ||= crypto.randomUUID();
    return form.elements.key.value;
  }

  // The ticket an entry belongs to: named by the form (its own key, where the entry opens the ticket), else by its address.
  function jobOf(form, url, key) {
    if (form.dataset.job === "key") return key;
    return url.match(/\/tickets\/([0-9a-f-]{36})\//)?.[1] ?? "";
  }

  // A photo is made smaller before it is kept: what a camera takes fills a device, and a paddock's network, for nothing.
  async function smaller(photo) {
    try {
      const picture = await createImageBitmap(photo, { imageOrientation: "from-image" });
      const scale = Math.min(1, LONGEST_PX / Math.max(picture.width, picture.height));
      const canvas = new OffscreenCanvas(Math.round(picture.width * scale), Math.round(picture.height * scale));
      canvas.getContext("2d").drawImage(picture, 0, 0, canvas.width, canvas.height);
      return await canvas.convertToBlob({ type: "image/jpeg", quality: 0.85 });
    } catch {
      return photo;
    }
  }

  // What was entered, as it is kept: texts, and photos as they are sent; a file nobody chose is none.
  async function fieldsOf(form, submitter) {
    const fields = [];
    for (const [name, value] of new FormData(form, submitter)) {
      if (name === "csrfmiddlewaretoken") continue;
      if (!(value instanceof File)) fields.push([name, value]);
      else if (value.size) fields.push([name, await smaller(value)]);
    }
    return fields;
  }

  async function entryOf(form, submitter, now) {
    setTimes(form, now);
    const url = new URL(form.action, location.href).pathname;
    const key = keyIn(form);
    const fields = await fieldsOf(form, submitter);
    const heading = tidy(document.querySelector("h1"));
    return {
      key,
      person: dataset.person,
      name: dataset.name,
      url,
      page: form.dataset.page ?? address.pathname + address.search,
      job: jobOf(form, url, key),
      part: form.dataset.part ?? "",
      words: form.dataset.outbox || [tidy(submitter), heading].filter(Boolean).join(" · "),
      about: heading,
      told: told(form),
      fields,
      madeAt: now.getTime(),
      followedUntil: now.getTime() + PATIENCE_MS,
      state: "waiting",
      reasons: [],
    };
  }

  function say(form, which) {
    const said = document.querySelector("[data-outbox-says]").content.querySelector(`[data-says=${which}]`);
    const note = said.cloneNode(true);
    form.querySelector("[data-says]")?.remove();
    form.prepend(note);
    note.scrollIntoView({ block: "nearest" });
    return note;
  }

  function freeze(form, isFrozen) {
    for (const button of form.querySelectorAll("button")) button.disabled = isFrozen;
  }

  // The service shows what it refuses, on its own page with every control that belongs there.
  async function showRefusal(form, entry, submitter) {
    const pass = await Sender.askPass().catch(() => null);
    if (!pass) return leave(entry);
    form.elements.csrfmiddlewaretoken.value = pass.token;
    if (submitter?.name) {
      const chosen = Object.assign(document.createElement("input"), { type: "hidden" });
      form.append(Object.assign(chosen, { name: submitter.name, value: submitter.value }));
    }
    return HTMLFormElement.prototype.submit.call(form);
  }

  // Where somebody goes on when nothing can be sent now. The browser is asked to send it even with no page open.
  async function leave(entry) {
    if (entry.key) await Entries.change(entry.key, { followedUntil: 0 });
    const worker = await navigator.serviceWorker?.getRegistration();
    await worker?.sync?.register("outbox").catch(() => {});
    const isJob = entry.job && dataset.waiting;
    location.assign(isJob ? `${dataset.waiting}?ticket=${entry.job}` : `${dataset.outbox}#${entry.key}`);
  }

  async function follow(form, key, submitter) {
    await Promise.race([Sender.run(key), new Promise((done) => { setTimeout(done, PATIENCE_MS); })]);
    const entry = await Entries.get(key);
    if (entry?.state === "sent") return location.assign(entry.url);
    if (entry?.state === "refused") return showRefusal(form, entry, submitter);
    return leave(entry ?? {});
  }

  async function submit(form, submitter) {
    const reading = entryOf(form, submitter, new Date());
    freeze(form, true);
    const entry = await reading;
    try {
      await Entries.add(entry);
    } catch {
      freeze(form, false);
      offerToSend(form, entry, submitter);
      return;
    }
    say(form, "going");
    navigator.storage?.persist?.();
    await follow(form, entry.key, submitter);
  }

  // The device took nothing (full, or a window that keeps nothing): the form stays as it is, and may go out unstored.
  function offerToSend(form, entry, submitter) {
    const note = say(form, "full");
    note.querySelector("button").addEventListener("click", async () => {
      freeze(form, true);
      const outcome = await Sender.sendUnkept(entry);
      freeze(form, false);
      if (outcome.stored) location.assign(outcome.stored);
      else if (outcome.refused) showRefusal(form, entry, submitter);
      else note.querySelector("[data-unsent]").hidden = false;
    });
  }

  function fillFile(control, photo) {
    if (!(photo instanceof Blob)) return;
    const chosen = new DataTransfer();
    chosen.items.add(new File([photo], "photo.jpg", { type: photo.type }));
    control.files = chosen.files;
  }

  function fill(form, fields) {
    for (const control of form.elements) {
      const values = fields.filter(([name]) => name === control.name).map(([, value]) => value);
      if (control.type === "file") fillFile(control, values[0]);
      else if (["radio", "checkbox"].includes(control.type)) control.checked = values.includes(control.value);
      else if (values.length && control.type !== "submit") control.value = values[0];
      // The page's own scripts take it for typed: a time that was given stays, what follows from a choice follows again.
      if (values.length) control.dispatchEvent(new Event("input", { bubbles: true }));
    }
    form.dispatchEvent(new Event("change", { bubbles: true }));
  }

  // Opens a refused entry in its form with what was typed and the reasons it was refused for.
  async function mend(key) {
    const entry = await Entries.get(key);
    if (!entry || entry.person !== dataset.person) return;
    if (document.readyState !== "complete") await new Promise((done) => { addEventListener("load", done); });
    const forms = [...document.querySelectorAll("form[data-outbox]")];
    const form = forms.find((one) => new URL(one.action, location.href).pathname === entry.url) ?? forms[0];
    if (!form) return;
    form.closest("details")?.setAttribute("open", "");
    fill(form, entry.fields);
    if (form.elements.key) form.elements.key.value = entry.key;
    const note = say(form, "refused");
    for (const { message } of entry.reasons) {
      const line = document.createElement("li");
      line.textContent = message;
      note.querySelector("ul").append(line);
    }
    note.focus();
  }

  // Forms that a script puts on the page later are listened to as well, which is why the page listens and not each form.
  document.addEventListener("submit", (event) => {
    const form = event.target.closest("form[data-outbox]");
    if (!form || event.submitter?.getAttribute("formmethod") === "get") return;
    event.preventDefault();
    submit(form, event.submitter);
  });

  // The key in a copy was sent the last time the copy was opened: each time needs one of its own.
  if ("keptAt" in dataset) {
    for (const key of document.querySelectorAll("form[data-outbox] [name=key]")) key.value = crypto.randomUUID();
  }
  if (location.hash.startsWith("#mend=")) mend(location.hash.slice("#mend=".length));
})();
