// A shape is a few cells lifted off the chart with their colours: moved, mirrored, turned, and put down elsewhere.
// It holds rows and half pitches across, see grid.js.

export function lifted(grid, cells, numbers) {
  const shape = [];
  for (const at of numbers) if (cells[at] >= 0) shape.push({ row: grid.row(at), across: grid.across(at), colour: cells[at] });
  return shape;
}

export const landed = (grid, shape) => shape.map(({ row, across }) => grid.at(row, across));

function bounds(shape) {
  const box = { top: Infinity, bottom: -Infinity, left: Infinity, right: -Infinity };
  for (const { row, across } of shape) {
    box.top = Math.min(box.top, row);
    box.bottom = Math.max(box.bottom, row);
    box.left = Math.min(box.left, across);
    box.right = Math.max(box.right, across);
  }
  return box;
}

export function middleOf(shape) {
  const { top, bottom, left, right } = bounds(shape);
  return { row: (top + bottom) / 2, across: (left + right) / 2 };
}

// By rows and half pitches. On shifted rows an odd number of rows goes with an odd number of half pitches, else the
// shape would fall between the cells.
export function moved(grid, shape, rows, across) {
  const bad = grid.lean ? Math.abs(rows + across) % 2 : Math.abs(across) % 2;
  const sideways = across + (bad ? (across > 0 ? -1 : 1) : 0);
  return shape.map((cell) => ({ ...cell, row: cell.row + rows, across: cell.across + sideways }));
}

// An axis through cells, or between them, wherever the mirrored shape lands on cells again.
const evenSum = (grid, sum) => (grid.lean || sum % 2 ? sum - (Math.abs(sum) % 2) : sum);

export function mirroredAcross(grid, shape) {
  const { left, right } = bounds(shape);
  const sum = evenSum(grid, left + right);
  return shape.map((cell) => ({ ...cell, across: sum - cell.across }));
}

export function mirroredDown(grid, shape) {
  const { top, bottom } = bounds(shape);
  const sum = grid.lean ? top + bottom - ((top + bottom) % 2) : top + bottom;
  return shape.map((cell) => ({ ...cell, row: sum - cell.row }));
}

export function halfTurned(grid, shape) {
  const { top, bottom, left, right } = bounds(shape);
  const rows = top + bottom;
  let across = left + right;
  if (grid.lean ? Math.abs(across + rows) % 2 : Math.abs(across) % 2) across -= 1;
  return shape.map((cell) => ({ ...cell, row: rows - cell.row, across: across - cell.across }));
}

// Only where columns stand straight above each other: elsewhere a quarter turn falls between the cells.
export const canQuarter = (grid) => !grid.lean;

export function quarterTurned(grid, shape) {
  const { top, bottom, left } = bounds(shape);
  return shape.map((cell) => ({
    ...cell, row: top + (cell.across - left) / 2, across: left + 2 * (bottom - cell.row),
  }));
}

// ---- painting both halves at once: the partner of a cell, or -1 at an edge that has none
export function partners(grid, at, sides, ups) {
  const row = grid.row(at), across = grid.across(at);
  const sum = 2 * (grid.columns - 1);
  const tall = grid.lean ? 2 * Math.trunc((grid.rows - 1) / 2) : grid.rows - 1;
  const found = [at];
  if (sides) found.push(grid.at(row, sum - across));
  if (ups) found.push(grid.at(tall - row, across));
  if (sides && ups) found.push(grid.at(tall - row, sum - across));
  return found.filter((one) => one >= 0);
}

export const axes = (grid) => ({
  x: grid.columns / 2,
  y: ((grid.lean ? 2 * Math.trunc((grid.rows - 1) / 2) : grid.rows - 1) / 2 + 0.5) * grid.step,
});

// ---- areas
export function flooded(grid, cells, from, within) {
  const colour = cells[from];
  const seen = new Uint8Array(grid.size);
  const waiting = new Int32Array(grid.size);
  const near = new Int32Array(6);
  let first = 0, last = 1;
  waiting[0] = from;
  seen[from] = 1;
  while (first < last) {
    const n = grid.touching(waiting[first++], near);
    for (let index = 0; index < n; index++) {
      const at = near[index];
      if (seen[at] || cells[at] !== colour || (within && !within[at])) continue;
      seen[at] = 1;
      waiting[last++] = at;
    }
  }
  return waiting.slice(0, last);
}

export function alike(cells, colour, within) {
  const found = [];
  for (let at = 0; at < cells.length; at++) if (cells[at] === colour && (!within || within[at])) found.push(at);
  return found;
}
