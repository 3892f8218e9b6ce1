// What part of the chart is on the screen: CSS pixels a pitch, and the pitch at the top left, right of the row numbers
// and below the column numbers, which stay where they are.

export const NEAR = 24; // a cell smaller than this on the screen is not painted: the tap zooms in first
const ZOOMED = 34;
const LARGEST = 96;
export const LEFT = 30;
export const TOP = 20;

export class View {
  constructor(grid) {
    Object.assign(this, { grid, scale: 1, x: 0, y: 0, width: 0, height: 0 });
  }

  get fit() { return Math.min(this.width / this.grid.wide, this.height / this.grid.high); }
  get near() { return this.scale * Math.min(1, this.grid.step) >= NEAR; }
  get larger() { return this.scale > this.fit * 1.01; }
  get most() { return Math.max(LARGEST, this.fit); }
  get close() { return Math.max(ZOOMED / Math.min(1, this.grid.step), this.fit); }

  resize(width, height) {
    const whole = !this.width || !this.larger;
    this.width = Math.max(1, width - LEFT);
    this.height = Math.max(1, height - TOP);
    if (whole) this.scale = this.fit;
    this.hold();
  }

  hold() {
    this.scale = Math.min(Math.max(this.scale, this.fit), this.most);
    const within = (at, shown, whole) => (shown >= whole ? (whole - shown) / 2 : Math.min(Math.max(at, 0), whole - shown));
    this.x = within(this.x, this.width / this.scale, this.grid.wide);
    this.y = within(this.y, this.height / this.scale, this.grid.high);
  }

  // The pitch under a place on the canvas.
  under(px, py) {
    return { x: this.x + (px - LEFT) / this.scale, y: this.y + (py - TOP) / this.scale };
  }

  cellAt(px, py) {
    const { x, y } = this.under(px, py);
    return this.grid.nearest(x, y);
  }

  zoom(scale, px, py) {
    const { x, y } = this.under(px, py);
    this.scale = Math.min(Math.max(scale, this.fit), this.most);
    this.x = x - (px - LEFT) / this.scale;
    this.y = y - (py - TOP) / this.scale;
    this.hold();
  }

  move(dx, dy) {
    this.x -= dx / this.scale;
    this.y -= dy / this.scale;
    this.hold();
  }

  centre(at) {
    this.x = this.grid.x(at) - this.width / this.scale / 2;
    this.y = this.grid.y(at) - this.height / this.scale / 2;
    this.hold();
  }

  // Only as far as needed, so that the picture stands still while the cursor walks.
  reveal(at) {
    const x = this.grid.x(at), y = this.grid.y(at);
    const wide = this.width / this.scale, high = this.height / this.scale;
    if (x < this.x + 1 || x > this.x + wide - 1) this.x = x - wide / 2;
    if (y < this.y + 1 || y > this.y + high - 1) this.y = y - high / 2;
    this.hold();
  }

  // First and last row and column on the screen, and a little more.
  get rows() {
    return [
      Math.max(0, Math.floor(this.y / this.grid.step) - 1),
      Math.min(this.grid.rows - 1, Math.ceil((this.y + this.height / this.scale) / this.grid.step)),
    ];
  }
  get columns() {
    return [
      Math.max(0, Math.floor(this.x) - 1),
      Math.min(this.grid.columns - 1, Math.ceil(this.x + this.width / this.scale)),
    ];
  }
}
