// Mixing a colour picks "as mixed"; picking one names it, while it has no name yet.
const mix = document.querySelector("[data-mix]");
const mixed = document.querySelector('input[name="near"][value="mixed"]');
mix?.addEventListener("input", () => {
  mixed.checked = true;
  mixed.closest("label").querySelector("circle").setAttribute("fill", mix.value);
});
const word = document.querySelector('input[name="colour"]');
let ours = "";
document.addEventListener("change", (event) => {
  if (event.target.name !== "near" || event.target.value === "mixed" || !word) return;
  if (word.value && word.value !== ours) return;
  ours = word.value = event.target.closest("label").textContent.trim();
});
