// A form for wheels whose ticket this device opened and has still to send goes to that ticket.
for (const form of document.querySelectorAll("form[data-action-of]")) {
  const ticket = new URLSearchParams(location.search).get("ticket") || "";
  if (/^[0-9a-f-]{36}$/i.test(ticket)) {
    form.action = form.dataset.actionOf.replace("00000000-0000-0000-0000-000000000000", ticket);
    form.querySelector("[data-store]").disabled = false;
  }
}
