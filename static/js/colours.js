// Marking, on the picture itself, what is to keep its colours: by finger, pen, mouse or keys.

const form = document.getElementById("form");
const field = document.getElementById("id_focus_cells");
const act = document.getElementById("id_focus");
const tools = document.getElementById("marking");

let net = null; // {rows, columns, step, shift}
let marks = new Uint8Array(0);
let mode = ""; // "on", "off" or "" for looking only
let cursor = { row: 0, column: 0 };
let drawing = false;
let changed = false;

const canvas = () => document.getElementById("marks");
const words = () => document.getElementById("mark-cell");

// Bits as the server packs them: row by row, the first cell is a byte's highest bit.
function unpack(text, cells) {
  const found = new Uint8Array(cells);
  const bytes = text ? atob(text) : "";
  if (bytes.length !== Math.ceil(cells / 8)) return found;
  for (let at = 0; at < cells; at++) found[at] = (bytes.charCodeAt(at >> 3) >> (7 - (at & 7))) & 1;
  return found;
}

function pack(cells) {
  if (!cells.some(Boolean)) return "";
  const bytes = new Uint8Array(Math.ceil(cells.length / 8));
  cells.forEach((marked, at) => {
    if (marked) bytes[at >> 3] |= 128 >> (at & 7);
  });
  let text = "";
  for (const byte of bytes) text += String.fromCharCode(byte);
  return btoa(text);
}

function size() {
  const box = canvas();
  const wide = net.columns + net.shift;
  const high = net.rows * net.step;
  // The drawing keeps its shape inside its box, as an SVG does.
  const scale = Math.min(box.clientWidth / wide, box.clientHeight / high);
  return { scale, left: (box.clientWidth - wide * scale) / 2, top: (box.clientHeight - high * scale) / 2 };
}

function draw() {
  const box = canvas();
  if (!box || !net) return;
  const shown = act.value === "painted";
  box.hidden = !shown;
  tools.hidden = !shown;
  words().hidden = !shown || !mode;
  if (!shown) return;
  const ratio = devicePixelRatio || 1;
  box.width = box.clientWidth * ratio;
  box.height = box.clientHeight * ratio;
  const pen = box.getContext("2d");
  pen.scale(ratio, ratio);
  const { scale, left, top } = size();
  const ink = getComputedStyle(box).color;
  const paper = getComputedStyle(document.body).backgroundColor;
  pen.lineWidth = Math.max(1, scale * 0.16);
  for (let row = 0; row < net.rows; row++) {
    const shift = row % 2 ? net.shift : 0;
    for (let column = 0; column < net.columns; column++) {
      if (!marks[row * net.columns + column]) continue;
      const x = left + (column + shift) * scale;
      const y = top + row * net.step * scale;
      // A dark stroke on a light one is seen on any colour.
      for (const [colour, wider] of [[paper, 2.2], [ink, 1]]) {
        pen.strokeStyle = colour;
        pen.lineWidth = Math.max(1, scale * 0.14) * wider;
        pen.beginPath();
        pen.moveTo(x + scale * 0.2, y + net.step * scale * 0.8);
        pen.lineTo(x + scale * 0.8, y + net.step * scale * 0.2);
        pen.stroke();
      }
    }
  }
  if (document.activeElement === box && mode) {
    pen.strokeStyle = ink;
    pen.lineWidth = 3;
    const shift = cursor.row % 2 ? net.shift : 0;
    pen.strokeRect(
      left + (cursor.column + shift) * scale,
      top + cursor.row * net.step * scale,
      scale,
      net.step * scale,
    );
  }
}

function cellAt(event) {
  const box = canvas().getBoundingClientRect();
  const { scale, left, top } = size();
  const row = Math.floor((event.clientY - box.top - top) / (net.step * scale));
  const shift = row % 2 ? net.shift : 0;
  return { row, column: Math.floor((event.clientX - box.left - left) / scale - shift) };
}

// A finger is wide: what it touches is a round spot, on a large panel of several cells.
function spot({ row, column }, wide) {
  const reach = wide ? Math.max(0, Math.round(Math.max(net.rows, net.columns) / 40)) : 0;
  for (let r = row - reach; r <= row + reach; r++) {
    for (let c = column - reach; c <= column + reach; c++) {
      if (r < 0 || c < 0 || r >= net.rows || c >= net.columns) continue;
      if ((r - row) ** 2 + (c - column) ** 2 > reach * reach + reach) continue;
      marks[r * net.columns + c] = mode === "off" ? 0 : 1;
      changed = true;
    }
  }
}

function tell() {
  if (!words()) return; // no picture just now
  const marked = marks[cursor.row * net.columns + cursor.column] ? "marked" : "not marked";
  words().textContent = `Row ${cursor.row + 1}, column ${cursor.column + 1}: ${marked}. Arrow keys move, Space marks.`;
}

function keep() {
  if (!changed) return;
  changed = false;
  field.value = pack(marks);
  field.dispatchEvent(new Event("change", { bubbles: true }));
}

function choose(next) {
  mode = mode === next ? "" : next;
  for (const button of tools.querySelectorAll("[aria-pressed]")) {
    button.setAttribute("aria-pressed", String(button.dataset.mark === mode));
  }
  canvas()?.classList.toggle("marking", Boolean(mode));
  if (mode) tell();
  draw();
}

const STEPS = { ArrowUp: [-1, 0], ArrowDown: [1, 0], ArrowLeft: [0, -1], ArrowRight: [0, 1] };

function key(event) {
  const step = STEPS[event.key];
  if (step) {
    const row = Math.min(net.rows - 1, Math.max(0, cursor.row + step[0]));
    cursor = { row, column: Math.min(net.columns - 1, Math.max(0, cursor.column + step[1])) };
    if (event.shiftKey && mode) spot(cursor, false);
  } else if (event.key === " " || event.key === "Enter") {
    if (!mode) choose("on");
    spot(cursor, false);
  } else {
    return;
  }
  event.preventDefault();
  tell();
  draw();
}

function watch(box) {
  box.tabIndex = 0;
  box.setAttribute("role", "application");
  box.setAttribute("aria-label", "What keeps its colours: arrow keys move, Space marks, Shift and arrows mark along");
  box.setAttribute("aria-describedby", "mark-cell");
  box.addEventListener("pointerdown", (event) => {
    if (!mode) return;
    drawing = true;
    box.setPointerCapture(event.pointerId);
    cursor = cellAt(event);
    spot(cursor, true);
    draw();
  });
  box.addEventListener("pointermove", (event) => {
    if (!drawing) return;
    for (const each of event.getCoalescedEvents?.() ?? [event]) spot(cellAt(each), true);
    draw();
  });
  for (const end of ["pointerup", "pointercancel"]) {
    box.addEventListener(end, () => {
      drawing = false;
      const inside = (most, at) => Math.min(most - 1, Math.max(0, at));
      cursor = { row: inside(net.rows, cursor.row), column: inside(net.columns, cursor.column) };
      keep();
    });
  }
  box.addEventListener("keydown", key);
  box.addEventListener("keyup", (event) => {
    if (event.key === " " || event.key === "Enter" || event.key === "Shift") keep();
  });
  box.addEventListener("focus", draw);
  box.addEventListener("blur", () => {
    keep();
    draw();
  });
}

function begin() {
  const box = canvas();
  if (!box || box.tabIndex === 0) return; // none, or watched already
  net = Object.fromEntries(Object.entries(box.parentElement.dataset).map(([name, value]) => [name, Number(value)]));
  if (!changed) marks = unpack(field.value, net.rows * net.columns);
  watch(box);
  box.classList.toggle("marking", Boolean(mode));
  draw();
}

tools?.addEventListener("click", (event) => {
  const what = event.target.closest("[data-mark]")?.dataset.mark;
  if (what === "clear") {
    marks.fill(0);
    changed = true;
    keep();
    draw();
  } else if (what) {
    choose(what);
  }
});
act?.addEventListener("change", () => {
  mode = "";
  if (act.value === "painted") choose("on");
  draw();
});
// The picture is drawn anew after each choice; while a finger is on it, it must not be taken away.
document.addEventListener("htmx:beforeSwap", (event) => {
  if (drawing && event.detail.target.id === "preview") event.detail.shouldSwap = false;
});
document.addEventListener("htmx:afterSettle", (event) => {
  if (event.detail.target?.id !== "preview") return;
  const had = document.activeElement === document.body && mode;
  begin();
  if (had && form.dataset.keys) canvas()?.focus({ preventScroll: true });
});
document.addEventListener("keydown", (event) => {
  form.dataset.keys = event.target === canvas() ? "yes" : "";
});
const ticking = document.getElementById("ticking");
if (ticking) ticking.hidden = false;
ticking?.addEventListener("click", (event) => {
  const what = event.target.closest("[data-tick]")?.dataset.tick;
  if (!what) return;
  const boxes = [...form.querySelectorAll("input[name=may]")];
  for (const box of boxes) box.checked = what === "all";
  boxes[0]?.dispatchEvent(new Event("change", { bubbles: true }));
});
addEventListener("resize", draw);
begin();
