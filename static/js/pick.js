// A pick list on a phone. "Picked" says that all of it is; two who tick the same row tick it once. A smaller number
// says what was there, and carries what the page knew, so that nobody's tick is undone unseen.

import { scanner } from "./scan.js";
import { data, figure, follow, onSubmit, put, rows, say, waiting, whole, wordOf } from "./store-work.js";

const EVERY = 15_000;
const place = `pick:${data.reservation}`;
const { known, learn } = wordOf(place);
const order = [...rows.keys()];
const passed = new Set(); // rows that were left for later
const notes = new Map(); // what the studio said of a tick, in its row: the head of a long list is out of sight
const nextForm = document.getElementById("next");
const nextButton = nextForm.querySelector("button");

function standing(item) {
  const row = { ...known[item], waits: false };
  for (const { command, body, state } of waiting) {
    if (command !== "item_picked" || body.item !== item || state === "conflict") continue;
    row.picked = body.total === null ? row.asked : Math.min(body.total, row.asked);
    if (body.none_left) row.here = 0;
    else if (body.total === 0) row.here = Math.max(row.here, 1); // it lies there again
    row.waits = true;
  }
  row.state = row.picked >= row.asked ? "done" : row.here > 0 ? "open" : "none";
  return row;
}

function stands({ state, picked }) {
  if (state === "done") return "all picked";
  if (picked) return `${figure(picked)} picked`;
  return state === "none" ? "none there" : "";
}

function draw() {
  const all = order.map((item) => [item, standing(item)]);
  for (const [item, row] of all) {
    const place = rows.get(item);
    place.dataset.state = row.state;
    say(place.querySelector(".stands"), stands(row));
    say(place.querySelector(".short"), [notes.get(item), row.short].filter(Boolean).join(" "));
    say(place.querySelector(".early"), row.state === "open" && tooEarly(item, row.asked) ? row.early : "");
    place.querySelector(".waits").hidden = !row.waits;
    place.querySelector(".none").hidden = !row.picked;
  }
  const picked = all.filter(([, row]) => row.state === "done").length;
  const lacking = all.filter(([, row]) => row.state === "none").length;
  const words = `${picked} of ${all.length} picked` + (lacking ? `, ${lacking} not all there` : "");
  say(document.getElementById("progress"), words);
  document.getElementById("bar").value = picked;
  const open = all.filter(([, one]) => one.state === "open");
  const [item, row] = open.find(([one]) => !passed.has(one)) ?? open[0] ?? [0, null];
  nextForm.hidden = !row;
  document.getElementById("done").hidden = Boolean(row);
  nextButton.value = item;
  nextButton.textContent = row ? `${row.bin ? `${row.bin}: ` : ""}${figure(row.asked)} of ${row.name} picked` : "";
}

// ---- ticking
// By what the page knows, which may be old without a signal: then who lacks it is told once the tick is in.
function tooEarly(item, total) {
  const { early, safe, picked } = known[item];
  return Boolean(early) && total > Math.max(safe, picked);
}

function leave(item) {
  rows.get(item).querySelector(".early-ask")?.remove();
}

function askFirst(item, act) {
  leave(item);
  const box = document.createElement("div");
  box.className = "early-ask";
  box.setAttribute("role", "group");
  const words = document.createElement("p");
  words.id = `early-${item}`;
  words.setAttribute("role", "alert");
  words.textContent = "Take them now all the same?";
  box.setAttribute("aria-labelledby", words.id);
  const buttons = document.createElement("div");
  buttons.className = "btns";
  const later = () => {
    passed.add(item);
    draw();
  };
  const choices = [["Take them now", "second", act], ["Leave them", "quiet", later]];
  for (const [text, look, then] of choices) {
    const button = document.createElement("button");
    button.type = "button";
    button.className = `btn ${look} small`;
    button.textContent = text;
    button.addEventListener("click", () => {
      leave(item);
      return then();
    });
    buttons.append(button);
  }
  box.append(words, buttons);
  const row = rows.get(item);
  row.querySelector(".pick-acts").before(box);
  row.scrollIntoView({ block: "center" });
  buttons.firstChild.focus({ preventScroll: true });
}

async function tick(item, total, none_left = false, sure = false) {
  if (!sure && tooEarly(item, total ?? known[item].asked)) return askFirst(item, () => tick(item, total, none_left, true));
  leave(item);
  const body = { reservation: data.reservation, item, total, none_left };
  await put("item_picked", `pick:${data.reservation}:${item}`, body, { base_version: known[item].picked });
}

function walkOn() {
  const item = Number(nextButton.value);
  if (item) rows.get(item)?.scrollIntoView({ block: "center" });
}

onSubmit(nextForm, async () => {
  const item = Number(nextButton.value);
  if (!item) return;
  const asks = tooEarly(item, known[item].asked);
  const done = tick(item, null);
  if (!asks) walkOn();
  await done;
});
for (const [item, row] of rows) {
  onSubmit(row.querySelector("form.all"), () => tick(item, null));
  const fewer = row.querySelector("form.fewer");
  onSubmit(fewer, async (button) => {
    const typed = fewer.elements.total;
    if (button?.name === "none") {
      typed.value = "";
      row.querySelector("details").open = false;
      return tick(item, 0);
    }
    const total = whole(typed.value);
    const most = known[item].asked;
    const wrong =
      total === null
        ? "Say in figures how many there were, 0 if there were none."
        : total > most
          ? `The event needs only ${figure(most)}. Take no more than that.`
          : "";
    let error = row.querySelector(".error");
    if (wrong && !error) {
      error = document.createElement("p");
      error.className = "error";
      error.setAttribute("role", "alert");
      typed.before(error);
    }
    say(error, wrong);
    if (wrong) return typed.focus();
    typed.value = "";
    row.querySelector("details").open = false;
    await tick(item, total, fewer.elements.none_left.checked);
  });
}

// ---- a code, typed or scanned, leads to its rows without asking the studio
function placeOf(code) {
  const text = code.trim().toLowerCase();
  const address = text.match(/\/([bi])\/(\d{1,18})\/?$/);
  if (address) return address[1] === "b" ? data.codes.bins[`b/${address[2]}`] : data.codes.items[`i/${address[2]}`];
  return data.codes.bins[text] ?? data.codes.items[`i/${text.replace(/^(?:no\.?|nr\.?|№|#)\s*/, "")}`];
}

const found = document.getElementById("found");
function goTo(code) {
  const item = placeOf(code);
  for (const row of rows.values()) delete row.dataset.found;
  if (!item) {
    found.className = "outcome warn";
    say(found, code.trim() ? `Nothing of this list lies at “${code.trim()}”.` : "");
    return;
  }
  say(found, "");
  const row = rows.get(item);
  row.dataset.found = "";
  row.scrollIntoView({ block: "center" });
  row.focus({ preventScroll: true });
}

const find = document.getElementById("find-form");
onSubmit(find, () => goTo(find.elements.find.value));
scanner(document.getElementById("scan"), document.getElementById("no-scan"), goTo);
const asked = document.querySelector("[data-found]");
if (asked) asked.scrollIntoView({ block: "center" });

// ---- what the others picked
async function look() {
  if (document.hidden) return;
  try {
    const answer = await fetch(data.now, { headers: { Accept: "application/json" }, cache: "no-store", redirect: "error" });
    if (!answer.ok) return;
    const { rows: fresh, beyond } = await answer.json();
    say(document.getElementById("beyond-words"), beyond);
    document.getElementById("beyond").hidden = !beyond;
    const changed = document.getElementById("changed");
    if (fresh.some((row) => !rows.has(row.item)) || fresh.length !== rows.size) {
      const link = document.createElement("a");
      link.href = location.href;
      link.textContent = "Show it as it is now";
      changed.replaceChildren("What the event needs was changed just now. ", link);
      changed.hidden = false;
    }
    fresh.forEach(learn);
    draw();
  } catch {
    // no signal: the line under the list's name says so
  }
}

function ways(entry, now) {
  if (entry.state !== "conflict") return null;
  const version = now?.version ?? known[entry.body.item]?.picked ?? 0;
  const theirs = `Leave it at ${figure(version)}`;
  return [[`It is ${figure(entry.body.total)}`, { base_version: version }], [theirs, null]];
}

follow({
  is: (entry) => entry.command === "item_picked" && entry.body.reservation === data.reservation,
  draw,
  name: ({ body }) => `${known[body.item]?.name ?? "A row"}, ${body.total === null ? "all picked" : `${figure(body.total)} picked`},`,
  ways,
  learn: (answer) => {
    learn(answer);
    notes.set(answer.item, answer.note ?? "");
    if (answer.note) {
      found.className = "outcome warn";
      say(found, `${known[answer.item]?.name}: ${answer.note}`);
    }
  },
});
setInterval(look, EVERY);
document.addEventListener("visibilitychange", look);
addEventListener("online", look);
look();
