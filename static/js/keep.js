// What was typed but not yet sent stays in this tab: a Back link, the browser's Back or a reload loses nothing.
// It is forgotten as soon as the form is sent, and with the tab.

const form = document.querySelector("form[data-keep]");
const place = `typed:${location.pathname}${location.search}`;

const fields = () =>
  [...form.elements].filter((field) => field.name && !["hidden", "file", "password", "submit"].includes(field.type));

function restore() {
  const typed = JSON.parse(sessionStorage.getItem(place) ?? "{}");
  for (const field of fields()) {
    const values = typed[field.name];
    if (!values) continue;
    if (field.type === "checkbox" || field.type === "radio") field.checked = values.includes(field.value);
    else field.value = values[0];
    field.closest("details")?.setAttribute("open", "");
  }
}

const asServed = (field) => {
  if (field.type === "checkbox" || field.type === "radio") return field.checked === field.defaultChecked;
  if (field.options) return [...field.options].every((option) => option.selected === option.defaultSelected);
  return field.value === field.defaultValue;
};

function keep() {
  const typed = {};
  for (const { name } of fields().filter((field) => !asServed(field))) {
    const alike = fields().filter((field) => field.name === name);
    const given = (field) => (field.type === "checkbox" || field.type === "radio" ? field.checked : true);
    typed[name] = alike.filter(given).map((field) => field.value);
  }
  if (Object.keys(typed).length) sessionStorage.setItem(place, JSON.stringify(typed));
}

if (form) {
  // A form that came back with errors already shows what was sent.
  if (form.querySelector("[aria-invalid=true]") || document.querySelector(".errors")) sessionStorage.removeItem(place);
  else restore();
  keep(); // a quick thumb may have typed before this ran
  form.addEventListener("input", keep);
  form.addEventListener("change", keep);
  form.addEventListener("submit", () => sessionStorage.removeItem(place));
}
