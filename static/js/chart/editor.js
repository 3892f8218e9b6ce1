// What all parts of the editor share: the cells, what is seen and selected, the colour and the tool in hand. Every
// change of a cell goes through `commit`, which remembers it for Undo and hands it on to be kept.

import { Cells, cellsWords, EMPTY, History } from "./cells.js";
import { Grid } from "./grid.js";
import { axes, partners } from "./shapes.js";
import { View } from "./view.js";

const LAST = "At least one cell must keep a balloon.";

export class Editor extends EventTarget {
  constructor(data, cells, locked, look) {
    super();
    this.data = data;
    this.grid = new Grid(data);
    this.view = new View(this.grid);
    this.cells = new Cells(this.grid, data.names.length, cells, locked);
    this.anyLocked = locked.includes(1);
    this.history = new History();
    Object.assign(this, { look, shades: data.shades, names: data.names, radius: data.radius });
    Object.assign(this, { tool: "brush", colour: 0, width: 0, edge: false, pick: "box" });
    Object.assign(this, { sides: false, ups: false, numbers: true, through: 0, pressed: false, source: null });
    this.cursor = { at: 0, shown: false };
    this.selected = null; // a byte a cell, or nothing
    this.clip = null;
    this.floating = null; // a shape over the chart that is not put down yet
    this.ahead = null; // cells that a line or box would take
    this.axes = axes(this.grid);
    this.under = null; // the stroke that a finger is drawing
  }

  tell(what, detail) { this.dispatchEvent(new CustomEvent(what, { detail })); }
  on(what, act) { this.addEventListener(what, (event) => act(event.detail)); }
  say(words) { this.tell("say", words); }

  colourWords(colour) { return colour < 0 ? "no balloon" : this.names[colour]; }
  doneWords(cells, how) {
    return this.colour < 0 ? `Without balloons now: ${cells}.` : `${cells} ${how} ${this.names[this.colour]}.`;
  }
  place(at) { return `Row ${this.grid.row(at) + 1}, column ${this.grid.column(at) + 1}`; }
  tellCell(at) {
    const lock = this.cells.locked[at] ? ", locked" : "";
    this.say(`${this.place(at)}: ${this.colourWords(this.cells.now[at])}${lock}`);
  }

  // With symmetry on, what is painted on one half is painted on the other.
  both(numbers) {
    if (!this.sides && !this.ups) return numbers;
    return numbers.flatMap((at) => (at < 0 ? [] : partners(this.grid, at, this.sides, this.ups)));
  }

  // ---- a stroke that grows under the finger
  begin() {
    this.under = { at: [], was: [], now: [], locked: 0 };
  }

  grow(numbers, colour) {
    if (this.frozen) return;
    const part = this.cells.stroke(this.both(numbers), colour);
    this.under.locked += part.locked;
    if (!part.at.length) return;
    for (let index = 0; index < part.at.length; index++) {
      this.under.at.push(part.at[index]);
      this.under.was.push(part.was[index]);
      this.under.now.push(part.now[index]);
    }
    this.cells.apply(part);
    this.tell("touched", part.at);
  }

  end() {
    const { at, was, now, locked } = this.under;
    this.under = null;
    const stroke = { at: Int32Array.from(at), was: Int16Array.from(was), now: Int16Array.from(now), locked };
    if (at.length && !this.balloons) {
      this.cells.apply(this.cells.reverse(stroke));
      this.tell("touched", stroke.at);
      this.say(LAST);
      return { ...stroke, at: [] };
    }
    this.settle(stroke);
    return stroke;
  }

  get balloons() { return this.cells.counts.reduce((sum, count) => sum + count, 0); }

  // A second finger came down: what the first began was meant as a pinch.
  drop() {
    if (!this.under) return;
    const { at, was } = this.under;
    this.under = null;
    at.forEach((number, index) => this.cells.put(number, was[index]));
    this.tell("touched", at);
  }

  // ---- whole changes
  commit(numbers, colours) {
    const stroke = this.cells.stroke(numbers, colours);
    if (this.frozen || this.wouldEmptyAll(stroke)) {
      if (!this.frozen) this.say(LAST);
      return { ...stroke, at: [] };
    }
    this.cells.apply(stroke);
    if (stroke.at.length) this.tell("touched", stroke.at);
    this.settle(stroke);
    return stroke;
  }

  wouldEmptyAll({ at, was, now }) {
    let { balloons } = this;
    for (let index = 0; index < at.length; index++) {
      balloons += (now[index] >= 0 ? 1 : 0) - (was[index] >= 0 ? 1 : 0);
    }
    return at.length > 0 && balloons <= 0;
  }

  settle(stroke) {
    if (stroke.locked) this.say(`Left as they are, being locked: ${cellsWords(stroke.locked)}.`);
    if (!stroke.at.length) return;
    this.history.add(stroke);
    this.tell("stroke", stroke);
    this.tell("changed");
  }

  lock(numbers, lock) {
    const stroke = this.cells.lockStroke(numbers, lock);
    if (stroke.at.length && !this.frozen) {
      this.cells.apply(stroke);
      this.anyLocked = this.cells.locked.includes(1);
      this.settle(stroke);
    }
    const what = lock ? "Locked, and kept when the picture is made anew" : "Unlocked";
    this.say(stroke.at.length ? `${what}: ${cellsWords(stroke.at.length)}.` : "Nothing to change there.");
  }

  undo() { this.step(this.history.done, this.history.undone, "Undone"); }
  redo() { this.step(this.history.undone, this.history.done, "Done again"); }

  step(from, to, word) {
    const stroke = this.frozen ? null : from.pop();
    if (!stroke) return;
    const back = this.cells.reverse(stroke);
    if (back.at.length) {
      to.push(back);
      this.cells.apply(back);
      this.anyLocked = this.cells.locked.includes(1);
      this.tell("touched", back.at);
      this.tell("stroke", back);
    }
    const left = back.left ? ` ${back.left} that somebody else painted since stay.` : "";
    this.say(`${word}: ${cellsWords(back.at.length)}.${left}`);
    this.tell("changed");
  }

  // Cells as they came from the studio: others painted them.
  take(cells, locked) {
    this.cells.locked = locked;
    this.anyLocked = locked.includes(1);
    const differ = this.cells.take(cells);
    if (differ.length) this.tell("touched", differ);
    this.tell("changed");
    return differ;
  }

  // ---- selecting
  select(numbers) {
    if (!numbers.length) this.selected = null;
    else {
      this.selected = new Uint8Array(this.grid.size);
      for (const at of numbers) if (at >= 0) this.selected[at] = 1;
    }
    this.tell("changed");
    this.tell("over");
  }

  get chosen() {
    const found = [];
    if (this.selected) this.selected.forEach((held, at) => held && found.push(at));
    return found;
  }

  // What is about to be painted, for the drawing above the balloons.
  coming() {
    if (this.floating) return this.floating.landing(this.grid);
    if (this.ahead) return this.ahead;
    return { at: [], colours: EMPTY };
  }

  rowWords(row) {
    const { columns } = this.grid;
    const parts = [];
    for (let column = 0, start = 0; column < columns; column = start) {
      const colour = this.cells.now[row * columns + column];
      while (start < columns && this.cells.now[row * columns + start] === colour) start++;
      parts.push(`${start - column} ${colour < 0 ? "empty" : this.names[colour]}`);
    }
    return `Row ${row + 1}: ${parts.join(", ")}`;
  }
}
