// The colours of all cells, which of them are locked, how many there are of each colour; and strokes, which change
// them there and back. A stroke holds what was before, so that it can be undone and so that nobody else's work is
// painted over unseen.

export const EMPTY = -1;
export const cellsWords = (n) => (n === 1 ? "1 cell" : `${n.toLocaleString("en-GB")} cells`);

export class Cells {
  constructor(grid, colours, cells, locked) {
    this.grid = grid;
    this.counts = new Int32Array(colours);
    this.locked = locked;
    this.take(cells);
  }

  // Other cells than before; gives the numbers of those that differ.
  take(cells) {
    const before = this.now;
    this.now = cells;
    this.counts.fill(0);
    for (let at = 0; at < cells.length; at++) if (cells[at] >= 0) this.counts[cells[at]]++;
    if (!before) return [];
    const differ = [];
    for (let at = 0; at < cells.length; at++) if (before[at] !== cells[at]) differ.push(at);
    return differ;
  }

  put(at, colour) {
    const before = this.now[at];
    if (before === colour) return;
    if (before >= 0) this.counts[before]--;
    if (colour >= 0) this.counts[colour]++;
    this.now[at] = colour;
  }

  // A stroke of these cells into a colour, or into one colour each; null where nothing would change.
  stroke(numbers, colours) {
    const each = typeof colours !== "number";
    const at = [], was = [], now = [];
    let locked = 0;
    const seen = new Set();
    numbers.forEach((number, index) => {
      const colour = each ? colours[index] : colours;
      if (number < 0 || seen.has(number)) return;
      seen.add(number);
      if (this.now[number] === colour) return;
      if (this.locked[number]) locked++;
      else {
        at.push(number);
        was.push(this.now[number]);
        now.push(colour);
      }
    });
    return { at: Int32Array.from(at), was: Int16Array.from(was), now: Int16Array.from(now), locked };
  }

  lockStroke(numbers, lock) {
    const at = Int32Array.from(numbers.filter((number) => this.locked[number] !== lock));
    return { kind: "lock", at, was: new Int16Array(at.length).fill(1 - lock), now: new Int16Array(at.length).fill(lock) };
  }

  apply(stroke) {
    if (stroke.kind === "lock") stroke.at.forEach((at, index) => { this.locked[at] = stroke.now[index]; });
    else for (let index = 0; index < stroke.at.length; index++) this.put(stroke.at[index], stroke.now[index]);
  }

  // What takes a stroke back: only cells that still have its colour, as others may have painted the rest since.
  reverse(stroke) {
    const held = stroke.kind === "lock" ? this.locked : this.now;
    const keep = [];
    for (let index = 0; index < stroke.at.length; index++) {
      if (held[stroke.at[index]] === stroke.now[index]) keep.push(index);
    }
    const picked = (from) => from.constructor.from(keep, (index) => from[index]);
    return {
      kind: stroke.kind, at: picked(stroke.at), was: picked(stroke.now), now: picked(stroke.was),
      left: stroke.at.length - keep.length,
    };
  }
}

// Undo and redo; a whole stroke is one step. Old strokes go first when there are too many.
const MOST_STROKES = 1000;
const MOST_HELD = 4_000_000;

export class History {
  constructor() {
    this.done = [];
    this.undone = [];
    this.held = 0;
  }

  add(stroke) {
    this.done.push(stroke);
    this.undone.length = 0;
    this.held = this.done.reduce((sum, one) => sum + one.at.length, 0);
    while (this.done.length > MOST_STROKES || (this.held > MOST_HELD && this.done.length > 200)) {
      this.held -= this.done.shift().at.length;
    }
  }
}

// ---- to and from the wire: neighbouring cells that change alike are one run
export function runsOf({ at, was, now }) {
  const order = Array.from(at.keys()).sort((one, other) => at[one] - at[other]);
  const runs = [];
  for (const index of order) {
    const last = runs.length - 4;
    const next = last >= 0 && runs[last] + runs[last + 1] === at[index];
    if (next && runs[last + 2] === now[index] && runs[last + 3] === was[index]) runs[last + 1]++;
    else runs.push(at[index], 1, now[index], was[index]);
  }
  return runs;
}

export function eachOf(runs, act) {
  for (let index = 0; index < runs.length; index += 4) {
    const [start, length, now, was] = runs.slice(index, index + 4);
    for (let at = start; at < start + length; at++) act(at, now, was);
  }
}

export function unpackedCells(text) {
  const bytes = bytesOf(text);
  return new Int16Array(bytes.buffer);
}

export function unpackedBits(text, size) {
  const bytes = bytesOf(text);
  const bits = new Uint8Array(size);
  if (bytes.length) for (let at = 0; at < size; at++) bits[at] = (bytes[at >> 3] >> (7 - (at & 7))) & 1;
  return bits;
}

const bytesOf = (text) => Uint8Array.from(atob(text), (letter) => letter.charCodeAt(0));
