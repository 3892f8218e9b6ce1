// Reads a label with the phone's camera where the browser can; where it cannot, that is said, and a typed code or the
// phone's own camera does it.

async function canScan() {
  if (!navigator.mediaDevices?.getUserMedia) {
    return isSecureContext ? "This browser cannot use the camera." : "Without https the camera cannot be used here.";
  }
  if (!("BarcodeDetector" in self)) return "This browser cannot read labels.";
  const formats = await BarcodeDetector.getSupportedFormats().catch(() => []);
  return formats.includes("qr_code") ? "" : "This browser cannot read labels.";
}

async function readOnce(video, open) {
  const detector = new BarcodeDetector({ formats: ["qr_code"] });
  while (open()) {
    const seen = video.readyState >= 2 ? await detector.detect(video).catch(() => []) : [];
    if (seen.length) return seen[0].rawValue;
    await new Promise((done) => setTimeout(done, 200));
  }
  return "";
}

export async function scanner(button, why, found) {
  const reason = await canScan();
  if (reason) {
    why.textContent = `${reason} Type the code, or open the label with the phone's own camera.`;
    why.hidden = false;
    return;
  }
  const dialog = document.getElementById("scanner");
  const video = dialog.querySelector("video");
  const words = dialog.querySelector("p");
  let stream = null;
  const stop = () => {
    stream?.getTracks().forEach((track) => track.stop());
    stream = null;
  };
  dialog.addEventListener("close", stop);
  dialog.querySelector("button").addEventListener("click", () => dialog.close());
  button.hidden = false;
  button.addEventListener("click", async () => {
    dialog.showModal();
    try {
      stream = await navigator.mediaDevices.getUserMedia({ video: { facingMode: "environment" } });
      if (!dialog.open) return stop();
      video.srcObject = stream;
      await video.play();
      const code = await readOnce(video, () => dialog.open);
      dialog.close();
      if (code) found(code);
    } catch {
      words.textContent = "The phone gave no picture. Allow the camera for this page, or type the code.";
    }
  });
}
