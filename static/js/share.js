// Links that are to be sent: shared by the phone's own sheet or copied, where the browser can; the address
// itself always stands there to be selected.
const say = (line, words) => {
  line.querySelector("[data-said]").textContent = words;
};

const copy = async (line, field) => {
  try {
    // Only on https or the machine itself; elsewhere the clipboard is not there.
    await navigator.clipboard.writeText(field.value);
    say(line, "Copied.");
  } catch {
    field.focus();
    field.select();
    say(line, document.execCommand?.("copy") ? "Copied." : "Selected: copy it from here.");
  }
};

const share = async (line, field) => {
  try {
    await navigator.share({ title: field.dataset.title, url: field.value });
  } catch (error) {
    if (error.name !== "AbortError") await copy(line, field);
  }
};

for (const line of document.querySelectorAll("[data-share-line]")) {
  const field = line.querySelector("input");
  const [copyButton, shareButton] = ["copy", "share"].map((name) => line.querySelector(`[data-${name}]`));
  copyButton.hidden = false;
  copyButton.addEventListener("click", () => copy(line, field));
  field.addEventListener("focus", () => field.select());
  if (navigator.share) {
    shareButton.hidden = false;
    shareButton.addEventListener("click", () => share(line, field));
  }
}
