// Says under a narrow list what it cuts off: the whole of what is chosen. The list itself tells it to a screen reader.
const ruler = document.createElement("canvas").getContext("2d");
const ARROW = 24;

for (const list of document.querySelectorAll("main select")) {
  const said = document.createElement("p");
  said.className = "chosen";
  said.setAttribute("aria-hidden", "true");
  list.after(said);
  const tell = () => {
    const look = getComputedStyle(list);
    const chosen = list.selectedOptions[0]?.text.trim() ?? "";
    ruler.font = `${look.fontWeight} ${look.fontSize} ${look.fontFamily}`;
    const room = list.clientWidth - parseFloat(look.paddingLeft) - parseFloat(look.paddingRight) - ARROW;
    said.textContent = list.clientWidth && ruler.measureText(chosen).width > room ? chosen : "";
  };
  list.addEventListener("change", tell);
  list.closest("details")?.addEventListener("toggle", tell);
  addEventListener("resize", tell);
  document.fonts.ready.then(tell);
}
