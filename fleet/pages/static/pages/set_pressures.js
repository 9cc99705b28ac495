// Carries the start pressures to the temperature that was typed and to the gauge that was chosen; all figures come with the page.
const form = document.querySelector("[data-pressures]");
const gauge = form.elements.gauge;
form.querySelector("[data-again]").hidden = true;

for (const wheel of form.querySelectorAll("[data-starts]")) {
  const starts = JSON.parse(wheel.dataset.starts);
  const { first, usual, sign } = wheel.dataset;
  const [pressure, warmth] = wheel.querySelectorAll("input");
  let isTyped = form.dataset.isSent === "yes";
  for (const kind of ["input", "change"]) pressure.addEventListener(kind, () => { isTyped = true; });

  const carry = () => {
    const typed = warmth.value.trim().replace(",", ".").replace("\u2212", "-");
    const degree = Math.round(Number(typed === "" ? usual : typed));
    const figure = starts[gauge.value]?.[degree - first];
    wheel.querySelector("[data-start]").textContent = figure ?? "not known";
    wheel.querySelector("[data-beside]").textContent = Number.isNaN(degree) ? "" : `with the tire at ${degree}\u00a0${sign}`;
    if (!isTyped) pressure.value = figure ?? "";
  };
  for (const kind of ["input", "change"]) warmth.addEventListener(kind, carry);
  gauge.addEventListener("change", carry);
}
