// One sheet at the table, row by row. A tick goes into the outbox first, so that it counts with or without a signal;
// what stands on the page is what the studio said last, with what still waits applied on top of it.

import { outbox } from "./outbox.js";
import { keepPages, sayLasting, showSignal, stayAwake } from "./phone.js";

const data = JSON.parse(document.getElementById("table-data").textContent);
const lines = [...document.querySelectorAll("#lines [data-line]")];
const byNumber = new Map(lines.map((line) => [Number(line.dataset.line), line]));
const order = [...byNumber.keys()];
const word = data.word[0].toUpperCase() + data.word.slice(1);
const inForm = document.getElementById("in");
const outForm = document.getElementById("out");
const inButton = inForm.querySelector("button");
const outButton = outForm.querySelector("button");
const TOO_QUICK = 300; // a finger that bounces
const EVERY = 15_000;
const place = `${data.entity}:${data.chart_key}`;

// ---- what is in: the studio's word, the newest of page, store and answers, for a kept page may be hours old
let known = data.known;
const stored = JSON.parse(localStorage.getItem(place) ?? "null");
if (stored && Date.parse(stored.at) > Date.parse(known.at)) known = stored;
let waiting = [];

function learn(now) {
  if (!now?.rows || now.chart_key !== data.chart_key || Date.parse(now.at) < Date.parse(known.at)) return;
  known = now;
  localStorage.setItem(place, JSON.stringify(known));
}

function loaded() {
  const rows = new Set(known.rows);
  for (const { command, body } of waiting) {
    if (body.chart_key !== data.chart_key) continue;
    if (command === "row_loaded") rows.add(body.row);
    else rows.delete(body.row);
  }
  return rows;
}

async function refresh() {
  waiting = (await outbox.waiting(data.entity)).filter((entry) => entry.state !== "refused");
  show();
}

function show() {
  const rows = loaded();
  const left = order.filter((number) => !rows.has(number));
  const [now, next] = left;
  for (const [number, line] of byNumber) {
    const state = number === now ? "now" : number === next ? "next" : "";
    if (state !== (line.dataset.state ?? "")) state ? (line.dataset.state = state) : delete line.dataset.state;
  }
  const at = now === undefined ? order.length : order.indexOf(now);
  const last = order.slice(0, at).findLast((number) => rows.has(number));
  outButton.hidden = last === undefined;
  outButton.value = last ?? "";
  inForm.hidden = now === undefined;
  inButton.value = now ?? "";
  inButton.textContent = now === undefined ? "" : `${word} ${now} is in`;
  document.getElementById("done").hidden = now !== undefined;
  document.getElementById("all-in").hidden = now !== undefined;
}

// ---- ticking
let tapped = 0;
async function tick(event, command, row) {
  event.preventDefault();
  if (!row || Date.now() - tapped < TOO_QUICK) return;
  tapped = Date.now();
  const body = { panel: data.panel, chart_key: data.chart_key, face: data.face, sheet: data.sheet, row };
  waiting = [...waiting, { command, body }]; // shown at once; the store follows
  show();
  if (command === "row_loaded") scrollTo({ top: 0 });
  await outbox.put(command, data.entity, body);
  await refresh();
}
// Capturing, before the page's own guard against second taps takes these for a form that was sent.
inForm.addEventListener("submit", (event) => tick(event, "row_loaded", Number(inButton.value)), true);
outForm.addEventListener("submit", (event) => tick(event, "row_unloaded", Number(outButton.value)), true);
for (const form of [inForm, outForm]) form.addEventListener("submit", (event) => event.stopPropagation());

// ---- news from the outbox
const parked = document.getElementById("parked");
async function showParked() {
  const entries = (await outbox.waiting(data.entity)).filter((entry) => ["refused", "conflict"].includes(entry.state));
  parked.replaceChildren(
    ...entries.map((entry) => {
      const box = document.createElement("div");
      box.className = "outcome no";
      box.append(`${word} ${entry.body.row} was not taken: ${entry.reason}`);
      const buttons = document.createElement("div");
      buttons.className = "btns";
      for (const [text, act] of [["Try again", outbox.again], ["Let it go", outbox.drop]]) {
        const button = document.createElement("button");
        button.type = "button";
        button.className = "btn second small";
        button.textContent = text;
        button.addEventListener("click", () => act(entry.op_id));
        buttons.append(button);
      }
      box.append(buttons);
      return box;
    }),
  );
}

const signal = document.getElementById("signal");
outbox.listen("*", (news) => {
  if (news.kind !== "state") return;
  showSignal(signal, news, outbox);
  sayLasting(news.lasting);
});
outbox.listen(data.entity, async (news) => {
  if (news.kind === "sent") learn(news.answer);
  await refresh();
  await showParked();
});

// ---- where this phone is, and what the others did
let token = "";
async function here() {
  if (document.hidden) return;
  try {
    if (!token) {
      const fresh = await fetch("/commands/", { headers: { Accept: "application/json" }, cache: "no-store" });
      token = (await fresh.json()).token ?? "";
    }
    const body = new URLSearchParams({ face: data.face, up: data.chart_key.split(":")[1] });
    const headers = { "X-CSRFToken": token, Accept: "application/json" };
    const answer = await fetch(data.here, { method: "POST", body, headers });
    if (!answer.ok) {
      token = "";
      return;
    }
    tellNews(await answer.json());
  } catch {
    token = ""; // no signal: the ticks' own line says so
  }
}

function tellNews(news) {
  if (news.known && news.known.chart_key !== data.chart_key) {
    const changed = document.getElementById("changed");
    const link = document.createElement("a");
    link.href = location.href;
    link.textContent = "Show it as it is now";
    changed.replaceChildren("The chart of this sheet was changed just now. ", link);
    changed.hidden = false;
    return;
  }
  learn(news.known);
  document.getElementById("pace").textContent = news.pace ?? "";
  const together = document.getElementById("together");
  together.textContent = news.together ?? "";
  together.hidden = !news.together;
  show();
}

refresh().then(showParked);
outbox.tell();
outbox.lasting.then(sayLasting);
here();
setInterval(here, EVERY);
document.addEventListener("visibilitychange", here);
stayAwake();
keepPages(data.keep, outbox);
