// Says at once what speaks against the chosen tire and how old it is; without script the server says it.
const form = document.querySelector("[data-fit]");
const panel = form.querySelector("[data-panel]");
const button = form.querySelector("[data-store]");
const told = form.querySelector("[data-told]");
const fields = form.elements;
const words = { store: button.dataset.store, anyway: button.dataset.anyway };

function chosen() {
  return form.querySelector("input[name=chosen]:checked");
}

function weigh() {
  const sentences = (chosen()?.dataset.against || "").split("\n").filter(Boolean);
  panel.hidden = !sentences.length;
  panel.querySelector("ul").replaceChildren(
    ...sentences.map((sentence) => Object.assign(document.createElement("li"), { textContent: sentence })),
  );
  fields.confirmed.value = chosen()?.dataset.confirms || "";
  button.textContent = sentences.length ? words.anyway : words.store;
}

function read() {
  const text = fields.identification.value.trim();
  told.textContent = "";
  if (!text) return;
  const today = new Date(Date.now() - new Date().getTimezoneOffset() * 60000).toISOString().slice(0, 10);
  try {
    const { madeOn, candidates } = readDateCode(text, today);
    if (!madeOn) {
      const years = candidates.map((day) => day.slice(0, 4)).join(" or ");
      told.textContent = `Made in ${years}: over 25 years old, such a tire is not fitted.`;
      return;
    }
    told.textContent = `Made in the week of ${weekInWords(madeOn)}, ${ageInWords(madeOn, today)}.`;
    const lot = chosen()?.dataset.madeOn;
    if (lot && lot !== madeOn) {
      told.textContent += " The chosen lot is of another week: check the number, or choose the lot the tire came from.";
    }
  } catch (error) {
    told.textContent = error.message;
  }
}

form.addEventListener("change", () => { weigh(); read(); });
fields.identification.addEventListener("input", read);
// A hand-held scanner ends what it types with Enter: the number is in, and nothing is sent yet.
fields.identification.addEventListener("keydown", (event) => {
  if (event.key === "Enter") event.preventDefault();
});
weigh();
read();
