// What came back, item by item. Only what went otherwise than meant is typed; the rest is used, or back in good order.

import { data, figure, follow, onSubmit, put, rows, say, waiting, whole, wordOf } from "./store-work.js";

const { known, learn } = wordOf(`return:${data.reservation}`);
const nextForm = document.getElementById("next");

function standing(item) {
  const row = { ...known[item], waits: false };
  for (const { command, body, state } of waiting) {
    if (body.item !== item) continue;
    if (state === "conflict") continue;
    row.waits = true;
    row.state = command === "return_undone" ? "open" : "done";
    row.said = command === "return_undone" ? "" : wordsOf(item, body);
  }
  return row;
}

function wordsOf(item, { ways, taken }) {
  const { returnable, out, asked } = known[item];
  const away = taken ? asked : out;
  const told = Object.values(ways).reduce((sum, number) => sum + number, 0);
  const parts = [[away - told + (ways[returnable ? "back" : "used"] ?? 0), returnable ? "back" : "used"]];
  const words = { back: "back", used: "used", burst: "burst", thrown: "thrown away", lost: "lost" };
  for (const [name, number] of Object.entries(ways)) if (number && name !== parts[0][1]) parts.push([number, words[name]]);
  const some = parts.filter(([number]) => number > 0);
  return some.map(([number, what]) => `${figure(number)} ${what}`).join(", ") || "Nothing was out";
}

function draw() {
  let open = 0;
  let left = 0;
  let told = 0;
  for (const [item, place] of rows) {
    const row = standing(item);
    place.dataset.state = row.state;
    place.querySelector(".waits").hidden = !row.waits;
    if (row.state === "done") say(place.querySelector(".became"), row.said || row.became || "");
    else if (row.state === "open") say(place.querySelector(".became"), "");
    if (row.state !== "done") {
      say(place.querySelector(".amount"), figure(row.state === "untold" ? row.asked : row.out));
      left += 1;
    } else if (row.out || row.waits) say(place.querySelector(".amount"), "0");
    open += row.state === "open";
    told += row.state === "done";
  }
  const settled = document.getElementById("settled");
  settled.hidden = left > 0;
  nextForm.hidden = !open;
  const button = nextForm.querySelector("button");
  say(button, told ? button.dataset.rest : button.dataset.all);
  document.getElementById("done").hidden = open > 0;
}

const entity = (item) => `return:${data.reservation}:${item}`;
const counted = (item, ways, taken = false) =>
  put("item_returned", entity(item), { reservation: data.reservation, item, ways, taken });

for (const [item, row] of rows) {
  const form = row.querySelector("form.became-so");
  const fields = [...form.querySelectorAll("input[inputmode]")];
  const error = document.createElement("p");
  error.className = "error";
  error.setAttribute("role", "alert");
  error.hidden = true;
  form.querySelector(".ways").before(error);
  onSubmit(form, async () => {
    const ways = {};
    for (const field of fields) {
      const number = field.value.trim() ? whole(field.value) : 0;
      if (number === null) {
        say(error, "Say in figures how many, or leave it empty for none.");
        form.querySelector("details").open = true;
        return field.focus();
      }
      if (number) ways[field.name] = number;
    }
    const sum = Object.values(ways).reduce((all, number) => all + number, 0);
    if (sum > known[item].out) {
      say(error, `That makes ${figure(sum)}, and only ${figure(known[item].out)} are out with the event.`);
      form.querySelector("details").open = true;
      return fields[0].focus();
    }
    say(error, "");
    for (const field of fields) field.value = "";
    form.querySelector("details").open = false;
    await counted(item, ways);
  });
  onSubmit(row.querySelector("form.was-untold"), (button) => counted(item, {}, button?.name === "taken"));
  onSubmit(row.querySelector("form.undo"), () => put("return_undone", entity(item), { reservation: data.reservation, item }));
}

onSubmit(nextForm, async () => {
  for (const item of rows.keys()) if (standing(item).state === "open") await counted(item, {});
});

follow({
  is: (entry) => ["item_returned", "return_undone"].includes(entry.command) && entry.body.reservation === data.reservation,
  draw,
  name: ({ command, body }) => `${known[body.item]?.name ?? "A row"}, ${command === "return_undone" ? "say again" : wordsOf(body.item, body)},`,
  ways: (entry) => (entry.state === "conflict" ? [["Leave it so", null]] : null),
  learn: (answer) => learn(answer),
});
