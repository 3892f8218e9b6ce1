// The balloons. Far away the picture is copied from a layer that is drawn once and kept up to date; close up the
// balloons on the screen are drawn themselves. What is painted redraws only its own place.

import { LEFT, TOP } from "./view.js";

const MANY = 30_000; // above this many cells the layer has flat cells: balloons could not be told apart there
const MOST_DIRTY = 500;
const MOST_MOVING = 300; // balloons drawn one by one while fingers move; more are copied from the layer
const AT_ONCE = 1000; // balloons that the layer takes in one frame; the rest stand there flat until their turn
const FRESH = 0, FLAT = 1, OLD = 2; // how a row of the layer stands

export class Picture {
  constructor(canvas, view, cells, { shades, radius }, look) {
    Object.assign(this, { canvas, view, cells, shades, radius, look, grid: view.grid });
    this.pen = canvas.getContext("2d", { alpha: false });
    this.sprites = new Map();
    this.dirty = [];
    this.frame = 0;
    this.whole = true;
    this.moving = 0;
    this.layer = document.createElement("canvas");
    this.flat = this.grid.size > MANY;
    this.dots = this.flat ? 2 : this.grid.size > 8000 ? 8 : 16;
    this.rows = new Uint8Array(this.grid.rows).fill(OLD);
    this.changed = []; // single cells that the layer has not got yet
  }

  resize(width, height) {
    this.canvas.width = Math.round(width * devicePixelRatio);
    this.canvas.height = Math.round(height * devicePixelRatio);
    this.all();
  }

  all() {
    this.whole = true;
    this.dirty.length = 0;
    this.ask();
  }

  // While fingers move, a view of many balloons is copied from the layer, and drawn sharply once they rest.
  swift(rested) {
    clearTimeout(this.moving);
    this.moving = setTimeout(() => { this.moving = 0; this.all(); rested(); }, 140);
    this.all();
  }

  touched(numbers) {
    if (this.changed.length + numbers.length <= MOST_DIRTY) this.changed.push(...numbers);
    else for (const at of numbers) this.rows[this.grid.row(at)] = OLD;
    if (!this.whole) {
      if (this.dirty.length + numbers.length > MOST_DIRTY) return this.all();
      this.dirty.push(...numbers);
    }
    this.ask();
  }

  recoloured(shades) {
    this.shades = shades;
    this.sprites.clear();
    this.rows.fill(OLD);
    this.all();
  }

  ask() {
    if (!this.frame) this.frame = requestAnimationFrame(() => this.now());
  }

  now() {
    this.frame = 0;
    const s = this.view.scale * devicePixelRatio;
    const left = LEFT * devicePixelRatio - this.view.x * s, top = TOP * devicePixelRatio - this.view.y * s;
    const whole = this.whole;
    this.whole = false;
    if (this.farAway(s)) this.copy(s, left, top);
    else if (whole) this.area(this.pen, s, left, top, this.seen());
    else for (const part of this.parts(this.dirty)) this.area(this.pen, s, left, top, part);
    this.dirty.length = 0;
  }

  farAway(s) {
    const seen = (this.view.width / this.view.scale) * (this.view.height / this.view.scale / this.grid.step);
    return s <= (this.flat ? 9 : this.dots * 1.25) || (this.moving && Math.min(seen, this.grid.size) > MOST_MOVING);
  }

  seen() {
    const { x, y, width, height, scale } = this.view;
    return [x - 1, y - 1, x + width / scale + 1, y + height / scale + 1];
  }

  // Places to redraw: a stroke is redrawn in strips, as the box round a long slanted one would hold half the chart.
  parts(numbers) {
    const { grid } = this;
    const boxes = [];
    for (let from = 0; from < numbers.length; from += 40) {
      const some = numbers.slice(from, from + 40);
      const xs = some.map((at) => grid.x(at)), ys = some.map((at) => grid.y(at));
      const reach = this.radius + 0.06;
      boxes.push([Math.min(...xs) - reach, Math.min(...ys) - reach, Math.max(...xs) + reach, Math.max(...ys) + reach]);
    }
    return boxes;
  }

  copy(s, left, top) {
    this.freshen();
    const { pen, canvas, layer, grid } = this;
    pen.fillStyle = this.look.net;
    pen.fillRect(0, 0, canvas.width, canvas.height);
    pen.imageSmoothingEnabled = !this.flat;
    // Only the part that is seen: a phone's painter would copy the rest for nothing.
    const dots = layer.width / grid.wide, lines = layer.height / grid.high;
    const [x0, y0, x1, y1] = this.seen().map((edge, index) => Math.min(Math.max(edge, 0), index % 2 ? grid.high : grid.wide));
    pen.drawImage(
      layer, x0 * dots, y0 * lines, (x1 - x0) * dots, (y1 - y0) * lines,
      left + x0 * s, top + y0 * s, (x1 - x0) * s, (y1 - y0) * s,
    );
  }

  freshen() {
    const { layer, grid, dots, rows } = this;
    const size = this.flat ? [grid.wide * 2, grid.rows] : [grid.wide * dots, grid.high * dots].map(Math.ceil);
    if (layer.width !== size[0] || layer.height !== size[1]) [layer.width, layer.height] = size;
    const pen = layer.getContext("2d");
    if (!this.changed.length && !rows.some((state) => state !== FRESH)) return;
    if (this.flat) {
      this.flatten(pen);
      rows.fill(FRESH);
    } else {
      for (const part of this.parts(this.changed)) this.area(pen, dots, 0, 0, part);
      this.fill(pen);
    }
    this.changed.length = 0;
  }

  // A few rows of balloons, and the other old ones flat; the next frame goes on.
  fill(pen) {
    const { grid, dots, rows } = this;
    let room = AT_ONCE;
    for (let row = 0; row < grid.rows; row++) {
      if (rows[row] === FRESH) continue;
      if (room <= 0) {
        if (rows[row] === OLD) this.flatRow(pen, row);
        rows[row] = FLAT;
        continue;
      }
      const first = row;
      while (row < grid.rows && rows[row] !== FRESH && room > 0) {
        rows[row++] = FRESH;
        room -= grid.columns;
      }
      const lap = this.radius - grid.step / 2; // its balloons reach into the rows above and below
      this.area(pen, dots, 0, 0, [-1, first * grid.step - lap, grid.wide + 1, row * grid.step + lap]);
      row--;
    }
    if (room <= 0) this.all();
  }

  flatRow(pen, row) {
    const { grid, dots, cells } = this;
    const top = Math.floor(row * grid.step * dots), high = Math.ceil(grid.step * dots);
    for (let column = 0, stop = 0; column < grid.columns; column = stop) {
      const colour = cells.now[row * grid.columns + column];
      while (stop < grid.columns && cells.now[row * grid.columns + stop] === colour) stop++;
      pen.fillStyle = colour < 0 ? this.look.net : this.shades[colour][2];
      pen.fillRect((column + grid.shiftOf(row)) * dots, top, (stop - column) * dots, high);
    }
  }

  flatten(pen) {
    const { grid, cells, layer } = this;
    const image = pen.createImageData(layer.width, layer.height);
    const dots = new Uint32Array(image.data.buffer);
    const inks = this.shades.map((shade) => word(shade[2]));
    dots.fill(word(this.look.net));
    for (let at = 0; at < grid.size; at++) {
      if (cells.now[at] < 0) continue;
      const place = grid.row(at) * layer.width + grid.across(at);
      dots[place] = dots[place + 1] = inks[cells.now[at]];
    }
    pen.putImageData(image, 0, 0);
  }

  // The balloons of one place, at s dots a pitch, with the chart's corner at left, top.
  area(pen, s, left, top, [x0, y0, x1, y1]) {
    const { grid, cells, radius } = this;
    pen.save();
    pen.beginPath();
    const box = [Math.floor(left + x0 * s), Math.floor(top + y0 * s)];
    pen.rect(...box, Math.ceil(left + x1 * s) - box[0], Math.ceil(top + y1 * s) - box[1]);
    pen.clip();
    pen.fillStyle = this.look.net;
    pen.fillRect(...box, Math.ceil((x1 - x0) * s) + 2, Math.ceil((y1 - y0) * s) + 2);
    const size = Math.max(2, Math.round(2 * radius * s));
    // While a pinch runs through all sizes, one balloon serves for several of them.
    const drawn = this.moving && pen === this.pen ? Math.ceil(size / 8) * 8 : size;
    const rows = [Math.max(0, Math.floor(y0 / grid.step) - 1), Math.min(grid.rows - 1, Math.ceil(y1 / grid.step) + 1)];
    const columns = [Math.max(0, Math.floor(x0) - 1), Math.min(grid.columns - 1, Math.ceil(x1) + 1)];
    for (let row = rows[0]; row <= rows[1]; row++) {
      const y = top + (row + 0.5) * grid.step * s;
      for (let column = columns[0]; column <= columns[1]; column++) {
        const colour = cells.now[row * grid.columns + column];
        const x = left + (column + 0.5 + grid.shiftOf(row)) * s;
        if (colour >= 0) pen.drawImage(this.sprite(colour, drawn), x - size / 2, y - size / 2, size, size);
        else opening(pen, x, y, 0.36 * s * Math.min(1, grid.step), this.look.edge);
      }
    }
    pen.restore();
  }

  sprite(colour, size) {
    const key = colour * 512 + size;
    const ready = this.sprites.get(key);
    if (ready) return ready;
    if (this.sprites.size > 400) this.sprites.clear();
    const made = balloon(this.shades[colour], size);
    this.sprites.set(key, made);
    return made;
  }
}

function balloon(shades, size) {
  const one = document.createElement("canvas");
  one.width = one.height = size;
  const ink = one.getContext("2d");
  const r = size / 2;
  ink.translate(r, r);
  const shade = ink.createRadialGradient(-0.34 * r, -0.4 * r, 0, -0.12 * r, -0.14 * r, 1.15 * r);
  [0, 0.3, 0.62, 0.86, 1].forEach((stop, at) => shade.addColorStop(stop, shades[at]));
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
  return one;
}

function opening(pen, x, y, r, edge) {
  pen.strokeStyle = edge;
  pen.lineWidth = Math.max(0.8, r * 0.12);
  pen.beginPath();
  pen.arc(x, y, r, 0, 7);
  pen.stroke();
}

// #rrggbb as the bytes of a picture.
function word(hex) {
  const [red, green, blue] = [1, 3, 5].map((at) => parseInt(hex.slice(at, at + 2), 16));
  return ((255 << 24) | (blue << 16) | (green << 8) | red) >>> 0;
}
