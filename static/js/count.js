// Counting a bin. The ledger's number is told once one is typed; a difference is explained and confirmed. What was
// moved while the phone had no signal is reckoned by the studio: the number counts for the moment it was typed.

import { data, figure, follow, onSubmit, put, rows, say, waiting, whole, wordOf } from "./store-work.js";

const { known, learn } = wordOf("count");
const before = new Map([...rows].map(([item, row]) => [item, row.querySelector(".became").textContent]));

function draw() {
  for (const [item, place] of rows) {
    const mine = waiting.filter((entry) => entry.body.item === item && entry.state !== "conflict");
    const last = mine.at(-1);
    place.querySelector(".waits").hidden = !last;
    const note = last ? `${figure(last.body.found)} counted` : known[item].note;
    place.dataset.state = note ? "done" : "open"; // open again, too, when the studio did not take it
    say(place.querySelector(".became"), note || before.get(item));
  }
}

for (const [item, row] of rows) {
  const form = row.querySelector("form");
  const { found, why } = form.elements;
  const [error, explain] = [row.querySelector(".error"), row.querySelector(".explain")];
  found.addEventListener("input", () => (explain.hidden = true));
  onSubmit(form, async (button) => {
    const number = whole(found.value);
    say(error, number === null ? "Say in figures how many lie there, 0 if there are none." : "");
    if (number === null) return found.focus();
    const { said } = known[item];
    if (number !== said && button?.name !== "sure") {
      const differs = Math.abs(number - said);
      const words = `The ledger says ${figure(said)}: ${figure(differs)} ${number < said ? "fewer" : "more"}.`;
      say(explain.querySelector(".differs"), words);
      explain.hidden = false;
      why.focus();
      return;
    }
    explain.hidden = true;
    const body = { item, found: number, knew: said, why: number === said ? "" : why.value, even_if_short: false };
    found.value = "";
    why.value = "";
    await put("item_counted", `count:${item}`, body);
  });
}

follow({
  is: (entry) => entry.command === "item_counted" && (!data.rows || rows.has(entry.body.item)),
  draw,
  name: ({ body }) => `${known[body.item]?.name ?? "A count"}, ${figure(body.found)} counted,`,
  ways: (entry) =>
    entry.state === "conflict"
      ? [["It is so all the same", { body: { ...entry.body, even_if_short: true } }], ["Count it again", null]]
      : null,
  learn,
});
