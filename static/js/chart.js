// The chart editor: a canvas that draws only what is on the screen, so that 7,000 cells move under a finger.
// All lengths are in pitches (the distance between neighbours in a row) until they are drawn.

const NEAR = 24; // a cell smaller than this on the screen is not painted: the tap zooms in first
const ZOOMED = 34;
const LARGEST = 96;

const data = JSON.parse(document.getElementById("chart-data").textContent);
const editor = document.getElementById("editor");
const canvas = document.getElementById("chart");
const pen = canvas.getContext("2d", { alpha: false });
const { rows, columns, step, shift, radius, shades, names, joins } = data;
const wide = columns + (rows > 1 ? shift : 0);
const high = rows * step;
let cells = unpacked(data.cells);
let version = data.version;

function unpacked(text) {
  const bytes = Uint8Array.from(atob(text), (c) => c.charCodeAt(0));
  return new Int16Array(bytes.buffer);
}

// ---- what is seen: scale in CSS pixels a pitch, and the pitch at the canvas's top left corner
const view = { scale: 1, x: 0, y: 0, width: 0, height: 0 };
const cursor = { row: 0, column: 0, shown: false };
const fitScale = () => Math.min(view.width / wide, view.height / high);
const isNear = () => view.scale * Math.min(1, step) >= NEAR;

function clampView() {
  view.scale = Math.min(Math.max(view.scale, fitScale()), Math.max(LARGEST, fitScale()));
  const hold = (at, shown, whole) => (shown >= whole ? (whole - shown) / 2 : Math.min(Math.max(at, 0), whole - shown));
  view.x = hold(view.x, view.width / view.scale, wide);
  view.y = hold(view.y, view.height / view.scale, high);
  // Only a chart that is larger than its frame takes the finger away from the page.
  canvas.classList.toggle("near", view.scale > fitScale() * 1.01);
}

function zoomTo(scale, px, py) {
  const x = view.x + px / view.scale;
  const y = view.y + py / view.scale;
  view.scale = Math.min(Math.max(scale, fitScale()), Math.max(LARGEST, fitScale()));
  view.x = x - px / view.scale;
  view.y = y - py / view.scale;
  clampView();
  draw();
}

function resize() {
  const box = canvas.parentElement.clientWidth;
  const wasFit = view.width === 0 || view.scale <= fitScale() * 1.01;
  view.width = box;
  view.height = Math.min((box / wide) * high, Math.max(260, innerHeight * 0.58));
  canvas.style.height = `${view.height}px`;
  canvas.width = Math.round(box * devicePixelRatio);
  canvas.height = Math.round(view.height * devicePixelRatio);
  if (wasFit) view.scale = fitScale();
  clampView();
  draw();
}

// ---- drawing
const sprites = new Map();
function sprite(colour, size) {
  const key = `${colour}/${size}`;
  if (sprites.has(key)) return sprites.get(key);
  if (sprites.size > 400) sprites.clear();
  const one = document.createElement("canvas");
  one.width = one.height = size;
  const ink = one.getContext("2d");
  const r = size / 2;
  ink.translate(r, r);
  const shade = ink.createRadialGradient(-0.34 * r, -0.4 * r, 0, -0.12 * r, -0.14 * r, 1.15 * r);
  [0, 0.3, 0.62, 0.86, 1].forEach((stop, at) => shade.addColorStop(stop, shades[colour][at]));
  ink.fillStyle = shade;
  ink.beginPath();
  ink.arc(0, 0, r, 0, 7);
  ink.fill();
  if (size > 8) {
    ink.fillStyle = "rgba(255,255,255,.62)";
    ink.beginPath();
    ink.ellipse(-0.36 * r, -0.42 * r, 0.2 * r, 0.13 * r, -Math.PI / 4, 0, 7);
    ink.fill();
  }
  sprites.set(key, one);
  return one;
}

let drawing = 0;
function draw() {
  if (!drawing) drawing = requestAnimationFrame(drawNow);
}

function drawNow() {
  drawing = 0;
  const s = view.scale * devicePixelRatio;
  pen.setTransform(1, 0, 0, 1, 0, 0);
  pen.fillStyle = "#EFEBE3";
  pen.fillRect(0, 0, canvas.width, canvas.height);
  const first = Math.max(0, Math.floor(view.y / step) - 1);
  const last = Math.min(rows - 1, Math.ceil((view.y + view.height / view.scale) / step));
  for (let row = first; row <= last; row++) (s < 4 ? drawFlat : drawRow)(row, s);
  drawJoins(s);
  if (cursor.shown) drawCursor(s);
}

const shiftOf = (row) => (row % 2 ? shift : 0);

function drawFlat(row, s) {
  const top = (row * step - view.y) * s;
  for (let column = 0, start = 0; column < columns; column = start) {
    const colour = cells[row * columns + column];
    while (start < columns && cells[row * columns + start] === colour) start++;
    if (colour < 0) continue;
    pen.fillStyle = shades[colour][2];
    pen.fillRect((column + shiftOf(row) - view.x) * s, top, (start - column) * s + 0.5, step * s + 0.5);
  }
}

function drawRow(row, s) {
  const from = Math.max(0, Math.floor(view.x - shiftOf(row)) - 1);
  const to = Math.min(columns - 1, Math.ceil(view.x + view.width / view.scale));
  const size = Math.max(2, Math.round(2 * radius * s));
  const y = ((row + 0.5) * step - view.y) * s;
  for (let column = from; column <= to; column++) {
    const colour = cells[row * columns + column];
    const x = (column + 0.5 + shiftOf(row) - view.x) * s;
    if (colour >= 0) pen.drawImage(sprite(colour, size), x - size / 2, y - size / 2);
    else drawOpening(x, y, 0.36 * s);
  }
}

function drawOpening(x, y, r) {
  pen.strokeStyle = "#9C937F";
  pen.lineWidth = Math.max(1, r * 0.12);
  pen.beginPath();
  pen.arc(x, y, r, 0, 7);
  pen.stroke();
}

function drawJoins(s) {
  if (!joins.length) return;
  const half = rows > 1 ? shift / 2 : 0;
  pen.beginPath();
  for (const [level, at, start, stop] of joins) {
    const [x1, y1, x2, y2] = level
      ? [start, at * step, stop + 2 * half, at * step]
      : [at + half, start * step, at + half, stop * step];
    pen.moveTo((x1 - view.x) * s, (y1 - view.y) * s);
    pen.lineTo((x2 - view.x) * s, (y2 - view.y) * s);
  }
  // On a whole large panel the joins would cover the picture.
  const thin = Math.min(1, Math.max(0.4, view.scale / 10));
  for (const [colour, width, dash] of [["#fff", 3, []], ["#1E2421", 1.5, [5, 3]]]) {
    pen.strokeStyle = colour;
    pen.lineWidth = width * thin * devicePixelRatio;
    pen.setLineDash(dash.map((part) => part * devicePixelRatio));
    pen.stroke();
  }
  pen.setLineDash([]);
}

function drawCursor(s) {
  const x = (cursor.column + 0.5 + shiftOf(cursor.row) - view.x) * s;
  const y = ((cursor.row + 0.5) * step - view.y) * s;
  for (const [colour, width] of [["#fff", 5], ["#0B57D0", 3]]) {
    pen.strokeStyle = colour;
    pen.lineWidth = width * devicePixelRatio;
    pen.beginPath();
    pen.arc(x, y, radius * s, 0, 7);
    pen.stroke();
  }
}

// ---- which cell, which colour
function cellAt(px, py) {
  const x = view.x + px / view.scale;
  const y = view.y + py / view.scale;
  let best = null;
  const middle = Math.floor(y / step);
  for (let row = Math.max(0, middle - 1); row <= Math.min(rows - 1, middle + 1); row++) {
    const column = Math.min(columns - 1, Math.max(0, Math.floor(x - shiftOf(row))));
    const far = Math.hypot(column + 0.5 + shiftOf(row) - x, (row + 0.5) * step - y);
    if (!best || far < best.far) best = { row, column, far };
  }
  return best && best.far < 1 ? best : null;
}

const paints = () => [...editor.querySelectorAll("[name=paint]")];
const chosen = () => Number(paints().find((one) => one.checked).value);
const colourWords = (colour) => (colour < 0 ? "no balloon" : names[colour]);

function say(row, column) {
  const colour = cells[row * columns + column];
  document.getElementById("chart-cell").textContent = `Row ${row + 1}, column ${column + 1}: ${colourWords(colour)}`;
}

// ---- painting, with what was before
const done = [];
const undone = [];

function paint(row, column, colour) {
  const at = row * columns + column;
  if (cells[at] === colour) return say(row, column);
  done.push([at, cells[at], colour]);
  undone.length = 0;
  put(at, colour);
}

function put(at, colour) {
  cells[at] = colour;
  waiting.push(`${Math.floor(at / columns)},${at % columns},${colour}`);
  say(Math.floor(at / columns), at % columns);
  tools();
  draw();
  send();
}

function tools() {
  editor.querySelector("[data-do=undo]").disabled = !done.length;
  editor.querySelector("[data-do=redo]").disabled = !undone.length;
  editor.querySelector("[data-do=out]").disabled = view.scale <= fitScale() * 1.01;
}

const acts = {
  undo() {
    const change = done.pop();
    if (!change) return;
    undone.push(change);
    put(change[0], change[1]);
  },
  redo() {
    const change = undone.pop();
    if (!change) return;
    done.push(change);
    put(change[0], change[2]);
  },
  in: () => zoomTo(Math.max(view.scale * 1.6, Math.min(ZOOMED, view.scale * 3)), view.width / 2, view.height / 2),
  out: () => zoomTo(view.scale / 1.6, view.width / 2, view.height / 2),
};
editor.addEventListener("click", (event) => {
  const act = event.target.closest("[data-do]")?.dataset.do;
  if (act) acts[act]();
  tools();
});

// ---- sending: one request at a time, as each one moves the version on; what is painted meanwhile waits
let waiting = [];
let sending = false;
const saved = document.getElementById("saved");
const problem = document.getElementById("chart-problem");

async function send() {
  if (sending || !waiting.length) return;
  sending = true;
  saved.textContent = "Saving";
  const batch = waiting.splice(0, 200);
  const body = new URLSearchParams({ version });
  batch.forEach((cell) => body.append("cell", cell));
  const token = document.querySelector("#by-number [name=csrfmiddlewaretoken]").value;
  try {
    const answer = await fetch(editor.dataset.paint, { method: "POST", body, headers: { "X-CSRFToken": token } });
    if (![200, 409, 422].includes(answer.status) || answer.redirected) throw new Error(answer.status);
    heard(answer.status, await answer.json());
  } catch {
    waiting.unshift(...batch);
    tell("Not saved yet: no answer. It is tried again by itself; keep this page open.");
    saved.textContent = "Not saved";
    setTimeout(() => { sending = false; send(); }, 3000);
    return;
  }
  sending = false;
  send();
}

function heard(status, state) {
  // Another picture, size or palette: nothing on this page fits any more.
  if (state.palette.join() !== data.palette.join() || (state.cells && unpacked(state.cells).length !== cells.length)) {
    location.reload();
    return;
  }
  version = state.version;
  if (status === 200) tell("");
  else {
    waiting = [];
    done.length = undone.length = 0;
    cells = unpacked(state.cells);
    tell(state.message);
    tools();
    draw();
  }
  state.counts.forEach(([count, short], colour) => {
    editor.querySelector(`[data-count="${colour}"]`).textContent = count.toLocaleString("en-GB");
    const lack = editor.querySelector(`[data-short="${colour}"]`);
    lack.hidden = !short;
    lack.querySelector("span").textContent = short.toLocaleString("en-GB");
  });
  document.querySelector("#by-number [name=version]").value = version;
  if (!waiting.length) saved.textContent = `Saved ${state.saved}`;
}

function tell(words) {
  problem.textContent = words;
  problem.hidden = !words;
}

addEventListener("beforeunload", (event) => {
  if (waiting.length || sending) event.preventDefault();
});

// ---- fingers and mice: a tap paints or zooms in, one finger moves a chart larger than its frame, two pinch
const fingers = new Map();
let moved = false;

const place = (event) => {
  const box = canvas.getBoundingClientRect();
  return { x: event.clientX - box.left, y: event.clientY - box.top };
};

canvas.addEventListener("pointerdown", (event) => {
  canvas.setPointerCapture(event.pointerId);
  if (!fingers.size) moved = false;
  else moved = true; // a second finger is never a tap
  const at = place(event);
  fingers.set(event.pointerId, { ...at, startX: at.x, startY: at.y });
  cursor.shown = false;
});

canvas.addEventListener("pointermove", (event) => {
  const finger = fingers.get(event.pointerId);
  if (!finger) return;
  const at = place(event);
  if (fingers.size === 1) {
    if (!moved && Math.hypot(at.x - finger.startX, at.y - finger.startY) < 8) return;
    moved = true;
    view.x -= (at.x - finger.x) / view.scale;
    view.y -= (at.y - finger.y) / view.scale;
    clampView();
    draw();
  } else if (fingers.size === 2) {
    const other = [...fingers].find(([id]) => id !== event.pointerId)[1];
    const before = Math.hypot(finger.x - other.x, finger.y - other.y);
    const after = Math.hypot(at.x - other.x, at.y - other.y);
    if (before > 0) zoomTo((view.scale * after) / before, (at.x + other.x) / 2, (at.y + other.y) / 2);
  }
  Object.assign(finger, at);
});

canvas.addEventListener("pointerup", (event) => {
  const finger = fingers.get(event.pointerId);
  fingers.delete(event.pointerId);
  tools();
  if (!finger || moved || fingers.size) return;
  const cell = cellAt(finger.x, finger.y);
  if (!cell) return;
  Object.assign(cursor, { row: cell.row, column: cell.column });
  if (!isNear()) {
    zoomTo(ZOOMED / Math.min(1, step), finger.x, finger.y);
    centre(cell.row, cell.column);
    say(cell.row, cell.column);
    tools();
  } else paint(cell.row, cell.column, chosen());
});
canvas.addEventListener("pointercancel", (event) => fingers.delete(event.pointerId));

canvas.addEventListener(
  "wheel",
  (event) => {
    if (!event.ctrlKey) return; // the plain wheel scrolls the page
    event.preventDefault();
    const at = place(event);
    zoomTo(view.scale * Math.exp(-event.deltaY / 200), at.x, at.y);
    tools();
  },
  { passive: false },
);

function centre(row, column) {
  view.x = column + 0.5 + shiftOf(row) - view.width / view.scale / 2;
  view.y = (row + 0.5) * step - view.height / view.scale / 2;
  clampView();
  draw();
}

// ---- keys
const MOVES = { ArrowLeft: [0, -1], ArrowRight: [0, 1], ArrowUp: [-1, 0], ArrowDown: [1, 0] };

canvas.addEventListener("keydown", (event) => {
  if (event.altKey) return;
  const key = event.key;
  if (event.ctrlKey || event.metaKey) {
    if (key === "z" || key === "y") {
      event.preventDefault();
      acts[key === "z" && !event.shiftKey ? "undo" : "redo"]();
    }
    return;
  }
  if (MOVES[key]) {
    const [down, right] = MOVES[key];
    if (cursor.shown) {
      cursor.row = Math.min(rows - 1, Math.max(0, cursor.row + down));
      cursor.column = Math.min(columns - 1, Math.max(0, cursor.column + right));
    }
    cursor.shown = true;
    if (!isNear()) view.scale = ZOOMED / Math.min(1, step);
    centre(cursor.row, cursor.column);
    say(cursor.row, cursor.column);
  } else if (key === "Enter" || key === " ") {
    cursor.shown = true;
    paint(cursor.row, cursor.column, chosen());
    draw();
  } else if (/^[0-9]$/.test(key)) {
    const one = paints().find((p) => p.value === String(Number(key) - 1));
    if (!one) return;
    one.checked = true;
    one.parentElement.scrollIntoView({ block: "nearest", inline: "nearest" });
    document.getElementById("chart-cell").textContent = `Painting with ${colourWords(Number(one.value))}`;
  } else if (key === "+" || key === "=") acts.in();
  else if (key === "-") acts.out();
  else return;
  event.preventDefault();
  tools();
});
canvas.addEventListener("blur", () => {
  cursor.shown = false;
  draw();
});

editor.hidden = false;
new ResizeObserver(resize).observe(canvas.parentElement);
resize();
tools();
