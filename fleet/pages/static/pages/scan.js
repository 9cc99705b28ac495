// Reveals the camera where the browser reads codes itself; without it, or without leave, the label's code is typed.
const button = document.querySelector("[data-scan]");
const view = document.querySelector("[data-scan-view]");
const says = document.querySelector("[data-scan-says]");
const words = button.textContent;

function stop() {
  for (const track of view.srcObject?.getTracks() ?? []) track.stop();
  view.srcObject = null;
  view.hidden = true;
  button.textContent = words;
}

async function scan() {
  const detector = new BarcodeDetector({ formats: ["qr_code"] });
  view.srcObject = await navigator.mediaDevices.getUserMedia({ video: { facingMode: "environment" } });
  view.hidden = false;
  button.textContent = button.dataset.stop;
  await view.play();
  while (view.srcObject) {
    const [code] = await detector.detect(view);
    if (code && view.srcObject) {
      stop();
      button.form.elements.who.value = code.rawValue;
      button.form.requestSubmit();
    }
    await new Promise((again) => setTimeout(again, 150));
  }
}

async function begin() {
  says.textContent = "";
  try {
    await scan();
  } catch {
    stop();
    says.textContent = says.dataset.refused;
  }
}

if ("BarcodeDetector" in window && navigator.mediaDevices) {
  BarcodeDetector.getSupportedFormats().then((formats) => {
    button.hidden = !formats.includes("qr_code");
  });
  button.addEventListener("click", () => (view.srcObject ? stop() : begin()));
  addEventListener("pagehide", stop);
}
