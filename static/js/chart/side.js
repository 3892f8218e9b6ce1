// What stands round the chart: buttons that show what is on, counts under the balloons, what is short and what could be
// taken instead, the rows in words.

import { sparesFor } from "./spares.js";

const figures = new Intl.NumberFormat("en-GB"); // made once: making one takes longer than all the rest here
const number = (n) => figures.format(n).replace("-", "−");
const write = (one, words) => one.textContent === words || (one.textContent = words);
const ROWS_AT_ONCE = 40;
const MOST_SHORT = 4;

function made(name, words = "", more = {}) {
  const one = document.createElement(name);
  one.textContent = words;
  Object.assign(one, more);
  return one;
}

export class Side {
  constructor(root, editor, sending, data) {
    Object.assign(this, { root, editor, sending, data });
    this.waiting = 0;
    this.burst = new Map(data.burst);
    this.counted = new Map();
    for (const one of root.querySelectorAll("[data-count]")) this.counted.set(Number(one.dataset.count), one);
    this.lacks = new Map();
    for (const one of root.querySelectorAll("[data-short]")) this.lacks.set(Number(one.dataset.short), one);
    this.short = root.querySelector("#chart-short");
    this.rows = root.querySelector("#chart-rows");
    this.rows.addEventListener("toggle", () => this.listRows(true));
    this.told = "";
  }

  one(selector) { return this.root.querySelector(selector); }
  all(selector) { return [...this.root.querySelectorAll(selector)]; }
  paints() { return this.all("[name=paint]"); }

  colour(value) {
    const one = this.paints().find((paint) => Number(paint.value) === value);
    if (!one) return;
    one.checked = true;
    one.closest("details")?.setAttribute("open", "");
    const holder = one.closest(".paints"), label = one.parentElement;
    holder.scrollLeft = label.offsetLeft - holder.offsetLeft - holder.clientWidth / 2 + label.offsetWidth / 2;
    this.editor.colour = value;
  }

  pressed(selector, held) {
    for (const one of this.all(selector)) {
      const now = String(Boolean(held(one.dataset)));
      if (one.getAttribute("aria-pressed") !== now) one.setAttribute("aria-pressed", now);
    }
  }

  // After every change, once a frame at most, and after the balloons themselves are on the screen.
  ask() {
    if (!this.waiting) this.waiting = requestAnimationFrame(() => setTimeout(() => this.now()));
  }

  now() {
    this.waiting = 0;
    const { editor } = this;
    this.pressed("[data-tool]", (data) => data.tool === editor.tool);
    for (const one of this.all("[data-for]")) one.hidden = one.dataset.for !== editor.tool;
    this.pressed("[data-width]", (data) => Number(data.width) === editor.width);
    this.pressed("[data-edge]", (data) => Boolean(data.edge) === editor.edge);
    this.pressed("[data-pick]", (data) => data.pick === editor.pick);
    this.pressed("[data-toggle]", (data) => Boolean(editor[data.toggle]));
    this.one("#chart-selected").hidden = !editor.selected || Boolean(editor.floating);
    this.one("#chart-floating").hidden = !editor.floating;
    this.one(".chart-options").hidden = Boolean(editor.selected || editor.floating);
    this.one("[data-act=paste]").disabled = !editor.clip;
    this.one("[data-do=undo]").disabled = !editor.history.done.length;
    this.one("[data-do=redo]").disabled = !editor.history.undone.length;
    this.one("[data-do=out]").disabled = !editor.view.larger;
    this.counts();
    if (this.rows.open) this.listRows(true);
  }

  free(colour) { return this.sending.free.get(this.data.items[colour]) ?? 0; }
  used(colour) { return this.editor.cells.counts[colour] * this.data.each; }
  spares(colour, used) { return sparesFor(used, this.data.spares, this.burst.get(this.data.items[colour])); }
  left(colour, used) { return this.free(colour) - used - this.spares(colour, used); }
  lack(colour) { return Math.max(0, -this.left(colour, this.used(colour))); }

  counts() {
    const { counts } = this.editor.cells;
    const short = [];
    counts.forEach((cells, colour) => {
      const shown = this.counted.get(colour), lack = this.lacks.get(colour), missing = this.lack(colour);
      if (shown) write(shown, number(cells * this.data.each));
      if (missing) short.push(colour);
      if (!lack) return;
      lack.hidden = !missing;
      if (missing) write(lack.querySelector("span"), number(missing));
    });
    write(this.counted.get(-1), number(this.editor.grid.size - this.editor.balloons));
    this.tellShort(short);
  }

  tellShort(short) {
    const told = short.map((colour) => `${colour}:${this.lack(colour)}`).join();
    if (told === this.told) return;
    this.told = told;
    this.short.hidden = !short.length;
    const rows = [made("h2", "Short of balloons")];
    if (this.sending.beside) rows.push(made("p", "The event's other pieces take theirs first.", { className: "muted" }));
    for (const colour of short.sort((one, other) => this.lack(other) - this.lack(one)).slice(0, MOST_SHORT)) {
      const used = this.used(colour), spare = this.spares(colour, used);
      const stands = `${number(used)} and ${number(spare)} spare, ${number(this.free(colour))} ${this.sending.beside ? "left" : "free"}`;
      rows.push(this.row(this.data.names[colour], stands, `${number(this.lack(colour))} short`));
      const other = this.instead(colour);
      if (other) rows.push(this.offer(colour, other));
    }
    const more = short.length - MOST_SHORT;
    if (more > 0) rows.push(made("p", `and ${more} more`, { className: "muted" }));
    this.short.replaceChildren(...rows);
  }

  row(what, stands, small) {
    const row = made("div", "", { className: "row" });
    const value = made("span", stands, { className: "v" });
    value.append(made("small", small));
    row.append(made("span", what, { className: "k" }), value);
    return row;
  }

  // The nearest colour of which enough is free for all that is short.
  instead(colour) {
    const moved = Math.ceil(this.lack(colour) / this.data.each) * this.data.each;
    return this.data.near[colour].find(([other]) => this.left(other, this.used(other) + moved) >= 0);
  }

  offer(colour, [other, apart]) {
    const cells = Math.ceil(this.lack(colour) / this.data.each);
    const row = this.row("Instead", `${this.data.names[other]} for the ${number(cells)} nearest the edge`, apart);
    const use = made("button", "Use it", { type: "button", className: "btn small second" });
    use.addEventListener("click", () => this.useInstead(colour, other, cells));
    row.append(use);
    return row;
  }

  useInstead(colour, other, cells) {
    const { editor } = this, { grid } = editor;
    const edge = (at) => Math.min(grid.row(at), grid.rows - 1 - grid.row(at), grid.column(at), grid.columns - 1 - grid.column(at));
    const found = [];
    editor.cells.now.forEach((held, at) => held === colour && !editor.cells.locked[at] && found.push(at));
    found.sort((one, next) => edge(one) - edge(next) || one - next);
    const { at } = editor.commit(found.slice(0, cells), other);
    editor.say(`${number(at.length)} cells are ${editor.colourWords(other)} now. Undo takes them back.`);
  }

  // Rows as text; a large chart's come some at a time.
  listRows(anew = false) {
    if (!this.rows.open) return;
    const list = this.rows.querySelector("ol"), more = this.rows.querySelector("button");
    const { rows } = this.editor.grid;
    const shown = Math.min(rows, anew ? Math.max(ROWS_AT_ONCE, list.children.length) : list.children.length + ROWS_AT_ONCE);
    for (let row = 0; row < shown; row++) {
      const words = this.editor.rowWords(row).replace(/^Row \d+: /, "");
      const line = list.children[row] ?? list.appendChild(document.createElement("li"));
      write(line, words);
    }
    more.hidden = shown >= rows;
  }
}
