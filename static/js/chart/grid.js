// How the cells stand. A cell is its number, row by row; lengths are in pitches, the distance between neighbours in
// a row. "Across" counts half pitches, so that rows that stand half a pitch to the right need no fractions: a shape
// moved, mirrored or turned by whole steps of it lands on cells exactly.

export class Grid {
  constructor({ rows, columns, step, shift }) {
    Object.assign(this, { rows, columns, step, shift });
    this.size = rows * columns;
    this.lean = shift ? 1 : 0;
    this.wide = columns + (rows > 1 ? shift : 0);
    this.high = rows * step;
  }

  row(at) { return Math.trunc(at / this.columns); }
  column(at) { return at % this.columns; }
  shiftOf(row) { return row % 2 ? this.shift : 0; }
  x(at) { return this.column(at) + 0.5 + this.shiftOf(this.row(at)); }
  y(at) { return (this.row(at) + 0.5) * this.step; }
  across(at) { return 2 * this.column(at) + (this.row(at) % 2 ? this.lean : 0); }

  // The cell there, or -1.
  at(row, across) {
    if (row < 0 || row >= this.rows) return -1;
    const twice = across - (row % 2 ? this.lean : 0);
    if (twice < 0 || twice % 2 || twice >= 2 * this.columns) return -1;
    return row * this.columns + twice / 2;
  }

  nearest(x, y) {
    const middle = Math.floor(y / this.step);
    let best = -1, least = 1;
    for (let row = Math.max(0, middle - 1); row <= Math.min(this.rows - 1, middle + 1); row++) {
      const column = Math.min(this.columns - 1, Math.max(0, Math.floor(x - this.shiftOf(row))));
      const far = Math.hypot(column + 0.5 + this.shiftOf(row) - x, (row + 0.5) * this.step - y);
      if (far < least) [best, least] = [row * this.columns + column, far];
    }
    return best;
  }

  // Cells that touch this one, written into `found`; gives how many.
  touching(at, found) {
    const { columns, size, lean } = this;
    const row = this.row(at), column = at - row * columns;
    let n = 0;
    if (column > 0) found[n++] = at - 1;
    if (column < columns - 1) found[n++] = at + 1;
    // Of the two cells above and below a shifted row's cell, one stands in its own column.
    const side = lean ? (row % 2 ? 1 : -1) : 0;
    const beside = lean && column + side >= 0 && column + side < columns;
    for (const other of [at - columns, at + columns]) {
      if (other < 0 || other >= size) continue;
      found[n++] = other;
      if (beside) found[n++] = other + side;
    }
    return n;
  }

  // Cells along a straight line, in order.
  line(x1, y1, x2, y2) {
    const steps = Math.max(1, Math.ceil(Math.hypot(x2 - x1, y2 - y1) * 4));
    const found = new Set();
    for (let step = 0; step <= steps; step++) {
      const share = step / steps;
      const at = this.nearest(x1 + (x2 - x1) * share, y1 + (y2 - y1) * share);
      if (at >= 0) found.add(at);
    }
    return [...found];
  }

  // The cell and those whose centres are no farther from its own.
  around(at, reach) {
    if (reach < 0.9) return [at];
    const found = [], x = this.x(at), y = this.y(at);
    const rows = Math.ceil(reach / this.step), across = Math.ceil(reach) + 1;
    for (let row = Math.max(0, this.row(at) - rows); row <= Math.min(this.rows - 1, this.row(at) + rows); row++) {
      const from = Math.max(0, this.column(at) - across), to = Math.min(this.columns - 1, this.column(at) + across);
      for (let column = from; column <= to; column++) {
        const other = row * this.columns + column;
        if (Math.hypot(this.x(other) - x, this.y(other) - y) <= reach) found.push(other);
      }
    }
    return found;
  }

  // The box between two cells, whole or its edge only.
  box(one, other, edge = false) {
    const [top, bottom] = sorted(this.row(one), this.row(other));
    const [left, right] = sorted(this.across(one), this.across(other));
    const found = [];
    for (let row = top; row <= bottom; row++) {
      const from = Math.max(0, Math.ceil((left - (row % 2 ? this.lean : 0)) / 2));
      const to = Math.min(this.columns - 1, Math.floor((right - (row % 2 ? this.lean : 0)) / 2));
      const whole = !edge || row === top || row === bottom;
      for (let column = from; column <= to; column += whole ? 1 : Math.max(1, to - from)) {
        found.push(row * this.columns + column);
      }
    }
    return found;
  }
}

export const sorted = (one, other) => (one <= other ? [one, other] : [other, one]);
