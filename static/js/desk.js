// Small comforts on every page; each page works without them.

// The first thing a refused form says must be what is wrong with it.
const focusErrors = (root) => root.querySelector?.("[data-focus]")?.focus();
focusErrors(document);
document.addEventListener("htmx:load", (event) => focusErrors(event.detail.elt));

// A second tap on a slow connection: the server answers it like the first, this only spares the wait.
document.addEventListener("submit", (event) => {
  const form = event.target;
  if (form.method !== "post") return;
  if (form.dataset.sent && Date.now() - Number(form.dataset.sent) < 8000) {
    event.preventDefault();
    return;
  }
  form.dataset.sent = Date.now();
  const button = event.submitter;
  if (button) button.setAttribute("aria-busy", "true");
});
// Back shows the page as it was left: its button must work again.
addEventListener("pageshow", () => {
  for (const form of document.querySelectorAll("form[data-sent]")) delete form.dataset.sent;
  for (const button of document.querySelectorAll("[aria-busy]")) button.removeAttribute("aria-busy");
});

// A new studio most likely lives by the clock of the phone that opens it.
for (const zones of document.querySelectorAll("select[data-own-zone]")) {
  const here = Intl.DateTimeFormat().resolvedOptions().timeZone;
  if (!zones.value && [...zones.options].some((zone) => zone.value === here)) zones.value = here;
}

// Forms that answer at once when a choice changes; without script their button does it.
document.addEventListener("change", (event) => {
  const form = event.target.closest("form[data-auto]");
  if (form) form.requestSubmit();
});

// Whoever signs out leaves nothing typed behind for the next person on this phone.
document.querySelector("form[data-sign-out]")?.addEventListener("submit", () => sessionStorage.clear());
