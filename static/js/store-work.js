// What the pages of the store's work share: what the studio said last with what still waits on top, what did not go
// through, and the phone's own part. A tick goes into the outbox first, so that it counts with or without a signal.

import { outbox } from "./outbox.js";
import { keepPages, sayLasting, showSignal, stayAwake } from "./phone.js";

export const data = JSON.parse(document.getElementById("work-data").textContent);
export const figure = (number) => number.toLocaleString("en");
export const rows = new Map([...document.querySelectorAll("[data-item]")].map((row) => [Number(row.dataset.item), row]));

// ---- the studio's word about each row: the newest of page, store and answers, for a kept page may be hours old
export function wordOf(place) {
  const known = data.rows ?? {};
  const stored = JSON.parse(localStorage.getItem(place) ?? "{}");
  for (const row of Object.values(stored)) take(row);
  function take(row) {
    const before = known[row.item];
    if (before && Date.parse(row.at) > Date.parse(before.at)) known[row.item] = { ...before, ...row };
  }
  return {
    known,
    learn(row) {
      if (!row?.item || !row.at) return;
      take(row);
      localStorage.setItem(place, JSON.stringify(Object.fromEntries(Object.entries(known).filter(([key]) => rows.has(Number(key))))));
    },
  };
}

// ---- what waits, and what was refused or met a conflict
let mine = () => true;
let redraw = () => {};
let describe = () => "";
let choices = () => null;
export let waiting = [];

export async function refresh() {
  waiting = (await outbox.waiting()).filter((entry) => entry.state !== "refused" && mine(entry));
  redraw();
}

export async function put(command, entity, body, options) {
  waiting = [...waiting, { command, body, entity }]; // shown at once; the store follows
  redraw();
  await outbox.put(command, entity, body, options);
  await refresh();
}

const parked = document.getElementById("parked");
const answers = new Map(); // what stood there instead, of a conflict that was just met

async function showParked() {
  const entries = (await outbox.waiting()).filter((entry) => mine(entry) && ["refused", "conflict"].includes(entry.state));
  parked.replaceChildren(...entries.map(parkedBox));
  for (const row of rows.values()) row.querySelector(".not-taken")?.remove();
  for (const entry of entries) rows.get(entry.body.item)?.append(pointer(entry));
}

// In the row itself: whoever ticks far down a list does not see what is said at its head.
function pointer(entry) {
  const line = document.createElement("p");
  line.className = "error not-taken";
  const link = document.createElement("a");
  link.href = `#parked-${entry.op_id}`;
  link.textContent = "Not taken: see why";
  line.append(link);
  return line;
}

function parkedBox(entry) {
  const box = document.createElement("div");
  box.className = "outcome no";
  box.id = `parked-${entry.op_id}`;
  box.tabIndex = -1;
  box.append(`${describe(entry)} was not taken. ${entry.reason}`);
  const buttons = document.createElement("div");
  buttons.className = "btns";
  const usual = [["Try again", {}], ["Let it go", null]];
  for (const [words, changes] of choices(entry, answers.get(entry.op_id)) ?? usual) {
    const button = document.createElement("button");
    button.type = "button";
    button.className = "btn second small";
    button.textContent = words;
    button.addEventListener("click", () => (changes === null ? outbox.drop(entry.op_id) : outbox.again(entry.op_id, changes)));
    buttons.append(button);
  }
  box.append(buttons);
  return box;
}

export function follow({ is, draw, name, ways = () => null, learn = () => {} }) {
  [mine, redraw, describe, choices] = [is, draw, name, ways];
  const signal = document.getElementById("signal");
  outbox.listen("*", async (news) => {
    if (news.kind === "state") {
      if (signal) showSignal(signal, news, outbox);
      sayLasting(news.lasting);
      return;
    }
    if (!news.entry || !mine(news.entry)) return;
    if (news.kind === "sent") learn(news.answer);
    if (news.kind === "conflict") {
      answers.set(news.entry.op_id, news.answer);
      learn(news.answer);
    }
    await refresh();
    await showParked();
  });
  refresh().then(showParked);
  outbox.tell();
  outbox.lasting.then(sayLasting);
  stayAwake();
  keepPages(data.keep ?? [], outbox);
}

// Capturing, before the page's own guard against second taps takes it for a form that was sent. A second tap within a
// blink is a finger that bounces: by then another row's button may be under it.
const TOO_QUICK = 300;
let tapped = 0;
export function onSubmit(form, act) {
  form.addEventListener(
    "submit",
    (event) => {
      event.preventDefault();
      event.stopPropagation();
      if (Date.now() - tapped < TOO_QUICK) return;
      tapped = Date.now();
      act(event.submitter);
    },
    true,
  );
}

// Plain figures as a number, anything else as null.
export const whole = (text) => (/^\d{1,7}$/.test(text.trim()) ? Number(text.trim()) : null);

export function say(place, words) {
  if (!place) return;
  if (place.textContent !== words) place.textContent = words;
  place.hidden = !words;
}
