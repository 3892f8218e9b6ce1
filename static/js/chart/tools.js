// What each tool does with a finger's way over the chart. A tool gets the cell it starts on, each further place, and
// the end; a tap is a start and an end on one cell. Line, box and selecting may be drawn, or tapped at both ends.

import { cellsWords } from "./cells.js";
import { alike, flooded } from "./shapes.js";

const REACH = [0, 1.1, 2.1]; // fine, middle and wide brush, in pitches

class Brush {
  start(editor, at, x, y) {
    Object.assign(this, { x, y });
    editor.begin();
    editor.grow(editor.grid.around(at, REACH[editor.width]), editor.colour);
    editor.tellCell(at);
  }
  move(editor, at, x, y) {
    const way = editor.grid.line(this.x, this.y, x, y);
    const reach = REACH[editor.width];
    Object.assign(this, { x, y });
    editor.grow(reach ? [...new Set(way.flatMap((one) => editor.grid.around(one, reach)))] : way, editor.colour);
    if (at >= 0) this.last = at;
  }
  end(editor) {
    const { at } = editor.end();
    if (at.length > 1) editor.say(editor.doneWords(cellsWords(at.length), "painted"));
  }
  cancel(editor) { editor.drop(); }
}

// Line, box and select: from one cell to another.
class Span {
  start(editor, at, x, y) {
    this.fresh = this.from === undefined;
    if (this.fresh) Object.assign(this, { from: at, x, y });
    this.show(editor, at, x, y);
  }
  move(editor, at, x, y) {
    if (at < 0) return;
    this.drawn = true;
    this.show(editor, at, x, y);
  }
  end(editor, at) {
    if (this.fresh && !this.drawn) {
      editor.say(`${editor.place(at)} is one end. Now the other.`);
      return;
    }
    const numbers = this.numbers;
    this.clear(editor);
    this.finish(editor, numbers);
  }
  show(editor, at, x, y) {
    this.numbers = this.span(editor, at, x, y);
    editor.ahead = { at: this.ahead(editor), colours: this.colour(editor) };
    editor.tell("over");
  }
  ahead(editor) { return editor.both(this.numbers); }
  colour(editor) { return editor.colour; }
  finish(editor, numbers) {
    const { at } = editor.commit(editor.both(numbers), editor.colour);
    if (at.length) editor.say(editor.doneWords(cellsWords(at.length), "painted"));
  }
  clear(editor) {
    this.from = undefined;
    this.drawn = false;
    editor.ahead = null;
    editor.tell("over");
  }
  cancel(editor) { this.clear(editor); }
}

class Line extends Span {
  span(editor, at) {
    const { grid } = editor;
    return grid.line(grid.x(this.from), grid.y(this.from), grid.x(at), grid.y(at));
  }
}

class Box extends Span {
  span(editor, at) { return editor.grid.box(this.from, at, editor.edge); }
}

class Select extends Span {
  start(editor, at, x, y) {
    if (editor.pick === "box") return super.start(editor, at, x, y);
    const { now } = editor.cells;
    this.finish(editor, editor.pick === "colour" ? alike(now, now[at]) : [...flooded(editor.grid, now, at)]);
  }
  move(editor, ...place) { if (editor.pick === "box") super.move(editor, ...place); }
  end(editor, at) { if (editor.pick === "box") super.end(editor, at); }
  span(editor, at) { return editor.grid.box(this.from, at); }
  ahead(editor) { return editor.grid.box(this.from, this.numbers.at(-1), true); }
  colour() { return -2; }
  finish(editor, numbers) {
    editor.select(numbers);
    editor.say(`${cellsWords(numbers.length)} selected.`);
  }
}

const once = (act) => ({ start: act, move() {}, end() {}, cancel() {} });

export function toolsOf() {
  return {
    brush: new Brush(),
    line: new Line(),
    box: new Box(),
    select: new Select(),
    fill: once((editor, at) => {
      const numbers = flooded(editor.grid, editor.cells.now, at, editor.selected?.[at] ? editor.selected : null);
      const { at: done } = editor.commit(editor.both([...numbers]), editor.colour);
      const already = `That is ${editor.colourWords(editor.colour)} already.`;
      editor.say(done.length ? editor.doneWords(cellsWords(done.length), "filled with") : already);
    }),
    swap: once((editor, at) => {
      const before = editor.cells.now[at];
      const { at: done } = editor.commit(alike(editor.cells.now, before, editor.selected), editor.colour);
      if (!done.length) return;
      const where = editor.selected ? "in what is selected" : "everywhere";
      const [from, to] = [before, editor.colour].map((colour) => editor.colourWords(colour));
      editor.say(`${from} is ${to} now, ${where}: ${cellsWords(done.length)}.`);
    }),
    pick: once((editor, at) => {
      editor.tell("colour", editor.cells.now[at]);
      editor.tellCell(at);
    }),
  };
}
