// The chart editor: everything is made and tied together here.

import { cellsWords, unpackedBits, unpackedCells } from "./cells.js";
import { Editor } from "./editor.js";
import { fingersOn } from "./fingers.js";
import { actsOf } from "./floating.js";
import { keysOn } from "./keys.js";
import { Overlay } from "./overlay.js";
import { Picture } from "./picture.js";
import { Sending } from "./sending.js";
import { Side } from "./side.js";
import { toolsOf } from "./tools.js";
import { TOP } from "./view.js";

const FIGURES_CALM = 4000;

const root = document.getElementById("editor");
const data = JSON.parse(document.getElementById("chart-data").textContent);
const canvas = document.getElementById("chart");
const box = canvas.parentElement;
const words = document.getElementById("chart-cell");
root.hidden = false;

const NAMES = ["net", "edge", "ink", "soft", "slip", "paper", "act", "focus"];
function colours() {
  const style = getComputedStyle(document.documentElement);
  return Object.fromEntries(NAMES.map((name) => [name, style.getPropertyValue(`--${name}`).trim()]));
}

const size = data.rows * data.columns;
const editor = new Editor(data, unpackedCells(data.cells), unpackedBits(data.locked, size), colours());
const picture = new Picture(document.getElementById("chart-balloons"), editor.view, editor.cells, data, editor.look);
const overlay = new Overlay(canvas, editor, data.joins);
const tools = toolsOf();
const acts = actsOf(editor);
const sending = new Sending(editor, data, root.dataset.cells);
const side = new Side(root, editor, sending, data);

const touchable = () => canvas.classList.toggle("near", editor.view.near || editor.view.larger);

const look = {
  acts,
  drawOver: () => overlay.ask(),
  moved() {
    overlay.moving = true;
    picture.swift(() => {
      overlay.moving = false;
      overlay.ask();
      side.ask();
    });
    overlay.ask();
    touchable();
  },
  zoom(times) {
    const { view } = editor;
    const scale = view.scale * times;
    // From far away one step comes near enough to see, and not far past it.
    view.zoom(times > 1 ? Math.max(scale, Math.min(view.close, view.scale * 3)) : scale, view.width / 2, view.height / 2);
    look.moved();
  },
  tool(name) {
    tools[editor.tool]?.cancel(editor);
    editor.tool = name;
    side.ask();
    editor.say(`${root.querySelector(`[data-tool=${name}]`).textContent}.`);
  },
  colour(value) {
    side.colour(value);
    editor.say(`Painting with ${editor.colourWords(editor.colour)}.`);
  },
  nextColour(step) {
    const all = side.paints().map((one) => Number(one.value));
    look.colour(all[(all.indexOf(editor.colour) + step + all.length) % all.length]);
  },
  toggle(what) {
    editor[what] = what === "through" ? (editor.through ? 0 : 0.6) : !editor[what];
    if (what === "through") source();
    const button = root.querySelector(`[data-toggle=${what}]`); // none for a picture that is not there
    if (button) editor.say(`${button.textContent}: ${editor[what] ? "on" : "off"}.`);
    overlay.ask();
    side.ask();
  },
  help() {
    const keys = document.getElementById("chart-keys");
    keys.open = !keys.open;
    if (keys.open) keys.scrollIntoView({ block: "nearest" });
  },
};

// The picture is only fetched when somebody wants to see it.
function source() {
  if (editor.source || !root.dataset.source) return;
  editor.source = new Image();
  editor.source.onload = () => overlay.ask();
  editor.source.onerror = () => editor.say("The picture cannot be shown just now.");
  editor.source.src = root.dataset.source;
}

editor.on("say", (said) => { words.textContent = said; });
editor.on("touched", (numbers) => { picture.touched(Array.from(numbers)); side.ask(); });
editor.on("changed", () => { side.ask(); overlay.ask(); });
editor.on("over", () => overlay.ask());
editor.on("colour", (value) => side.colour(value));

// ---- what the studio says
const note = (id, said) => {
  const one = document.getElementById(id);
  (one.querySelector("p") ?? one).textContent = said;
  one.hidden = !said;
};
editor.on("problem", (said) => note("chart-problem", said));
editor.on("dispute", ({ who, cells }) => {
  const of = cells === 1 ? "one of the same cells" : `${cells.toLocaleString("en-GB")} of the same cells`;
  note("chart-dispute", cells ? `${who} painted ${of}. Theirs are shown, yours are kept.` : "");
});
editor.on("remade", (cells) => {
  const lost = cells ? ` What you painted since does not fit it: ${cellsWords(cells)}.` : "";
  const before = "Here you see the chart before; nothing more is painted on it.";
  note("chart-remade", `This panel has another size now.${lost} ${before}`);
});
editor.on("kept", (said) => {
  const saved = document.getElementById("saved");
  if (saved.textContent !== said) saved.textContent = said;
});
let figuresAt = 0;
editor.on("saved", () => {
  const version = document.querySelector("#by-number [name=version]");
  if (version) version.value = sending.version;
  sending.tellState("clear");
  side.ask();
  clearTimeout(figuresAt);
  figuresAt = setTimeout(() => window.htmx?.trigger("#chart-figures", "figures"), FIGURES_CALM);
});

// ---- buttons
const buttons = {
  undo: () => editor.undo(),
  redo: () => editor.redo(),
  in: () => look.zoom(1.6),
  out: () => look.zoom(1 / 1.6),
  rows: () => side.listRows(),
  outline: () => sending.outline(),
  mine: () => sending.answer(true),
  theirs: () => sending.answer(false),
  reload: () => sending.letGo(),
};
root.addEventListener("click", (event) => {
  const button = event.target.closest("button");
  if (!button) return;
  const { tool, act, turn, toggle, width, edge, pick } = button.dataset;
  if (tool) look.tool(tool);
  else if (act) acts[act]();
  else if (turn) acts.turn(turn);
  else if (toggle) look.toggle(toggle);
  else if (width) editor.width = Number(width);
  else if (edge !== undefined) editor.edge = Boolean(edge);
  else if (pick) editor.pick = pick;
  else buttons[button.dataset.do]?.();
  side.ask();
});
root.addEventListener("change", (event) => {
  if (event.target.name === "paint") editor.colour = Number(event.target.value);
});
const hold = document.getElementById("chart-hold");
const press = (held) => () => {
  source();
  editor.pressed = held;
  overlay.ask();
};
hold?.addEventListener("pointerdown", press(true));
for (const name of ["pointerup", "pointercancel", "pointerleave", "blur"]) hold?.addEventListener(name, press(false));
hold?.addEventListener("keydown", (event) => (event.key === " " || event.key === "Enter") && press(true)());
hold?.addEventListener("keyup", press(false));
hold?.addEventListener("contextmenu", (event) => event.preventDefault());

// ---- the frame
function resize() {
  const width = box.clientWidth;
  if (!width) return;
  const wide = innerWidth >= 1100;
  const whole = ((width - 30) / editor.grid.wide) * editor.grid.high + TOP;
  const height = Math.round(Math.min(whole, Math.max(220, innerHeight * (wide ? 0.72 : 0.4))));
  canvas.style.height = box.style.height = `${height}px`;
  editor.view.resize(width, height);
  picture.resize(width, height);
  overlay.resize(width, height);
  touchable();
  side.ask();
}

fingersOn(canvas, editor, tools, look);
keysOn(canvas, editor, tools, look);
new ResizeObserver(resize).observe(box);
addEventListener("resize", resize);
matchMedia("(prefers-color-scheme: dark)").addEventListener("change", () => {
  Object.assign(editor.look, colours());
  picture.recoloured(data.shades);
  overlay.ask();
});
editor.colour = Number(side.paints().find((one) => one.checked)?.value ?? 0);
sending.start();
