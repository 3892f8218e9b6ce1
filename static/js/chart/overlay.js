// What lies over the balloons and changes more often than they: grid and numbers, joins, what is selected or about to
// be painted, the keyboard's place, the source picture.

import { LEFT, TOP } from "./view.js";

export class Overlay {
  constructor(canvas, editor, joins) {
    Object.assign(this, { canvas, editor, joins, view: editor.view, grid: editor.grid });
    this.pen = canvas.getContext("2d");
    this.frame = 0;
    this.moving = false; // while fingers move only what they steer by is drawn: thin lines and dashes are slow
  }

  resize(width, height) {
    this.canvas.width = Math.round(width * devicePixelRatio);
    this.canvas.height = Math.round(height * devicePixelRatio);
    this.ask();
  }

  ask() {
    if (!this.frame) this.frame = requestAnimationFrame(() => this.now());
  }

  now() {
    this.frame = 0;
    const { pen, canvas, view, editor } = this;
    pen.setTransform(1, 0, 0, 1, 0, 0);
    pen.clearRect(0, 0, canvas.width, canvas.height);
    const s = view.scale * devicePixelRatio;
    pen.setTransform(1, 0, 0, 1, LEFT * devicePixelRatio - view.x * s, TOP * devicePixelRatio - view.y * s);
    this.source(s);
    if (editor.numbers) this.lines(s);
    this.seams(s);
    this.selection(s);
    if (editor.sides || editor.ups) this.axes(s);
    this.locks(s);
    this.coming(s);
    this.cursor(s);
    pen.setTransform(devicePixelRatio, 0, 0, devicePixelRatio, 0, 0);
    this.figures();
  }

  source(s) {
    const { pen, editor, grid } = this;
    const share = editor.pressed ? 1 : editor.through;
    if (!share || !editor.source?.complete || !editor.source.naturalWidth) return;
    pen.globalAlpha = share;
    pen.imageSmoothingEnabled = true;
    pen.drawImage(editor.source, 0, 0, grid.wide * s, grid.high * s);
    pen.globalAlpha = 1;
  }

  // A line after every fifth row and column; close up a thin one after each.
  lines(s) {
    const { pen, view, grid, editor } = this;
    const close = view.scale >= 14 && !this.moving;
    for (const every of close ? [1, 5] : [view.scale >= 5 ? 5 : 25]) {
      pen.beginPath();
      const [top, bottom] = view.rows, [left, right] = view.columns;
      for (let row = top; row <= bottom + 1; row++) {
        if (row % every === 0) this.stroke(0, row * grid.step, grid.wide, row * grid.step, s);
      }
      for (let column = left; column <= right + 1; column++) {
        if (column % every) continue;
        if (!grid.lean) this.stroke(column, 0, column, grid.high, s);
        else for (let row = top; row <= bottom; row++) {
          const x = column + grid.shiftOf(row);
          this.stroke(x, row * grid.step, x, (row + 1) * grid.step, s);
        }
      }
      pen.globalAlpha = every === 1 ? 0.16 : 0.5;
      pen.strokeStyle = editor.look.ink;
      pen.lineWidth = devicePixelRatio * (every === 1 ? 0.75 : 1);
      pen.stroke();
    }
    pen.globalAlpha = 1;
  }

  stroke(x1, y1, x2, y2, s) {
    this.pen.moveTo(x1 * s, y1 * s);
    this.pen.lineTo(x2 * s, y2 * s);
  }

  dashed(width, colours, dash) {
    const { pen } = this;
    colours.forEach((colour, index) => {
      pen.strokeStyle = colour;
      pen.lineWidth = (index ? width : width * 2) * devicePixelRatio;
      pen.setLineDash(index && !this.moving ? dash.map((part) => part * devicePixelRatio) : []);
      pen.stroke();
    });
    pen.setLineDash([]);
  }

  seams(s) {
    if (!this.joins.length) return;
    const { pen, grid, view } = this;
    const half = grid.rows > 1 ? grid.shift / 2 : 0;
    pen.beginPath();
    for (const [level, at, start, stop] of this.joins) {
      if (level) this.stroke(start, at * grid.step, stop + 2 * half, at * grid.step, s);
      else this.stroke(at + half, start * grid.step, at + half, stop * grid.step, s);
    }
    // On a whole large panel the joins would cover the picture.
    const thin = Math.min(1, Math.max(0.4, view.scale / 10));
    this.dashed(1.5 * thin, ["#fff", "#000"], [5, 3]);
  }

  // Everything else is washed over, so that what is selected keeps its colours.
  selection(s) {
    const { pen, grid, view, editor } = this;
    const chosen = editor.selected;
    if (!chosen) return;
    pen.beginPath();
    const [left, right] = view.columns;
    for (let row = view.rows[0]; row <= view.rows[1]; row++) {
      for (let column = left, start = left; column <= right; column = start) {
        const held = chosen[row * grid.columns + column];
        while (start <= right && chosen[row * grid.columns + start] === held) start++;
        if (!held) pen.rect((column + grid.shiftOf(row)) * s, row * grid.step * s, (start - column) * s, grid.step * s);
      }
    }
    pen.globalAlpha = 0.62;
    pen.fillStyle = editor.look.paper;
    pen.fill();
    pen.globalAlpha = 1;
  }

  axes(s) {
    const { grid, editor } = this;
    const { x, y } = editor.axes;
    this.pen.beginPath();
    if (editor.sides) this.stroke(x, 0, x, grid.high, s);
    if (editor.ups) this.stroke(0, y, grid.wide, y, s);
    this.dashed(1.5, ["#fff", editor.look.act], [9, 4]);
  }

  locks(s) {
    const { pen, grid, view, editor } = this;
    if (view.scale < 12 || !editor.anyLocked) return;
    pen.beginPath();
    const size = 0.1 * s;
    for (let row = view.rows[0]; row <= view.rows[1]; row++) {
      for (let column = view.columns[0]; column <= view.columns[1]; column++) {
        const at = row * grid.columns + column;
        if (editor.cells.locked[at]) pen.rect(grid.x(at) * s - size, grid.y(at) * s - size, 2 * size, 2 * size);
      }
    }
    pen.fillStyle = "#fff";
    pen.fill();
    pen.strokeStyle = "#000";
    pen.lineWidth = devicePixelRatio * 1.25;
    pen.stroke();
  }

  // What a line, a box, or a shape that is not put down yet would paint.
  coming(s) {
    const { pen, grid, editor } = this;
    const { at, colours } = editor.coming();
    if (!at.length) return;
    const r = editor.radius * s;
    for (let index = 0; index < at.length; index++) {
      if (at[index] < 0) continue;
      const colour = typeof colours === "number" ? colours : colours[index];
      pen.beginPath();
      pen.arc(grid.x(at[index]) * s, grid.y(at[index]) * s, r, 0, 7);
      pen.fillStyle = colour < 0 ? editor.look.net : editor.shades[colour][2];
      if (colour > -2) pen.fill();
      pen.lineWidth = Math.max(1, 0.06 * s);
      pen.strokeStyle = editor.look.focus;
      pen.stroke();
    }
  }

  cursor(s) {
    const { pen, grid, editor } = this;
    if (!editor.cursor.shown) return;
    for (const [colour, width] of [["#fff", 5], [editor.look.focus, 3]]) {
      pen.strokeStyle = colour;
      pen.lineWidth = width * devicePixelRatio;
      pen.beginPath();
      pen.arc(grid.x(editor.cursor.at) * s, grid.y(editor.cursor.at) * s, editor.radius * s, 0, 7);
      pen.stroke();
    }
  }

  // Row numbers at the left, column numbers at the top: they stay while the chart moves under them.
  figures() {
    const { pen, view, grid, editor } = this;
    pen.fillStyle = editor.look.slip;
    pen.fillRect(0, 0, LEFT, TOP + view.height);
    pen.fillRect(0, 0, LEFT + view.width, TOP);
    pen.fillStyle = editor.look.soft;
    pen.font = "400 13px Figtree, system-ui, sans-serif";
    pen.textBaseline = "middle";
    const every = (size, room) => [1, 5, 10, 25, 50, 100].find((step) => step * size >= room) ?? 100;
    const rows = every(view.scale * grid.step, 14), columns = every(view.scale, 22);
    pen.textAlign = "right";
    for (let row = view.rows[0]; row <= view.rows[1]; row++) {
      const y = TOP + ((row + 0.5) * grid.step - view.y) * view.scale;
      if ((row + 1) % rows === 0 && y > TOP + 4 && y < TOP + view.height - 4) pen.fillText(row + 1, LEFT - 4, y);
    }
    pen.textAlign = "center";
    for (let column = view.columns[0]; column <= view.columns[1]; column++) {
      const x = LEFT + (column + 0.5 + grid.shiftOf(view.rows[0]) - view.x) * view.scale;
      if ((column + 1) % columns === 0 && x > LEFT + 4 && x < LEFT + view.width - 4) pen.fillText(column + 1, x, TOP / 2);
    }
  }
}
