// Reveals the minus and plus buttons beside numbers; without script the numbers are typed.
for (const stepper of document.querySelectorAll(".stepper")) {
  const input = stepper.querySelector("input");
  const step = Number(stepper.dataset.step);
  const decimals = (stepper.dataset.step.split(".")[1] || "").length;
  for (const button of stepper.querySelectorAll("button")) {
    button.hidden = false;
    button.addEventListener("click", () => {
      const now = Number((input.value || input.placeholder || "0").replace(",", ".").replace("\u2212", "-"));
      input.value = ((Number.isFinite(now) ? now : 0) + step * Number(button.dataset.by)).toFixed(decimals);
      input.dispatchEvent(new Event("change", { bubbles: true }));
    });
  }
}
