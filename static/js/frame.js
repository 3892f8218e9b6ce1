// Cropping on the picture itself: by finger, pen, mouse or keys. What is chosen stands in the form's own fields, which
// can be typed in as well, so that nothing depends on dragging.

const SVG = "http://www.w3.org/2000/svg";
const LEAST = 2; // percent of the picture that must be left

const form = document.getElementById("form");
const stage = document.getElementById("stage");
const wide = stage.viewBox.baseVal.width;
const high = stage.viewBox.baseVal.height;
const field = (name) => document.getElementById(`id_${name}`);
const cuts = ["left", "top", "right", "bottom"];

// What is cut off, in percent of the picture.
function read() {
  const box = {};
  for (const side of cuts) {
    const typed = Number(field(`cut_${side}`).value.replace(",", "."));
    box[side] = Number.isFinite(typed) ? Math.min(100 - LEAST, Math.max(0, typed)) : 0;
  }
  box.right = Math.min(box.right, 100 - LEAST - box.left);
  box.bottom = Math.min(box.bottom, 100 - LEAST - box.top);
  return box;
}

function write(box) {
  for (const side of cuts) field(`cut_${side}`).value = String(Math.round(box[side] * 10) / 10);
}

const grips = {};

function grip(name, words, kind) {
  const group = document.createElementNS(SVG, "g");
  group.setAttribute("class", `grip ${kind}`);
  group.dataset.grip = name;
  for (const [part, shape] of [["reach", kind === "all" ? "rect" : "circle"], ["knob", "circle"]]) {
    const dot = document.createElementNS(SVG, shape);
    dot.setAttribute("class", part);
    group.append(dot);
  }
  if (words) {
    group.setAttribute("tabindex", "0");
    group.setAttribute("role", "slider");
    group.setAttribute("aria-label", words);
    group.setAttribute("aria-valuemin", "0");
    group.setAttribute("aria-valuemax", "100");
    if (kind === "down") group.setAttribute("aria-orientation", "vertical");
  } else {
    group.setAttribute("aria-hidden", "true"); // the two sides that meet in a corner are moved by keys
  }
  stage.append(group);
  grips[name] = group;
}

function place(group, x, y, unit) {
  for (const [part, size] of [["reach", 24], ["knob", 8]]) {
    if (group === grips.all && part === "reach") continue;
    const dot = group.querySelector(`.${part}`);
    dot.setAttribute("cx", x);
    dot.setAttribute("cy", y);
    dot.setAttribute("r", size * unit);
  }
}

function draw() {
  const box = read();
  const left = (box.left / 100) * wide;
  const top = (box.top / 100) * high;
  const right = wide - (box.right / 100) * wide;
  const bottom = high - (box.bottom / 100) * high;
  const [x, y] = [(left + right) / 2, (top + bottom) / 2];
  document.getElementById("shade").setAttribute(
    "d",
    `M0 0H${wide}V${high}H0ZM${left} ${top}H${right}V${bottom}H${left}Z`,
  );
  for (const id of ["crop", "crop-dash"]) {
    const line = document.getElementById(id);
    line.setAttribute("x", left);
    line.setAttribute("y", top);
    line.setAttribute("width", right - left);
    line.setAttribute("height", bottom - top);
  }
  const level = Number(field("level").value) || 0;
  document.getElementById("stage-picture").setAttribute("transform", `rotate(${level} ${x} ${y})`);
  const unit = 1 / (stage.getScreenCTM()?.a || 1);
  const inner = grips.all.querySelector(".reach");
  for (const [name, value] of Object.entries({ x: left, y: top, width: right - left, height: bottom - top })) {
    inner.setAttribute(name, value);
  }
  // The whole picture cannot be moved, and a finger on it scrolls the page.
  grips.all.classList.toggle("still", cuts.every((side) => box[side] === 0));
  const spots = {
    left: [left, y],
    right: [right, y],
    top: [x, top],
    bottom: [x, bottom],
    "left top": [left, top],
    "right top": [right, top],
    "left bottom": [left, bottom],
    "right bottom": [right, bottom],
    all: [x, y],
  };
  for (const [name, spot] of Object.entries(spots)) {
    // At the picture's own edge a grip stands a little inside, or half of it could not be seen.
    const inside = (value, most) => Math.min(most - 9 * unit, Math.max(9 * unit, value));
    place(grips[name], inside(spot[0], wide), inside(spot[1], high), unit);
  }
  for (const side of cuts) {
    grips[side].setAttribute("aria-valuenow", String(Math.round(box[side])));
    grips[side].setAttribute("aria-valuetext", `${Math.round(box[side])} percent cut off`);
  }
  grips.all.setAttribute("aria-valuenow", String(Math.round(box.left)));
  grips.all.setAttribute("aria-valuetext", `${Math.round(box.left)} percent from the left, ${Math.round(box.top)} from the top`);
}

// Moves what a grip stands for by so many percent to the right and down.
function move(name, from, across, down) {
  const box = { ...from };
  if (name === "all") {
    const x = Math.min(from.right, Math.max(-from.left, across));
    const y = Math.min(from.bottom, Math.max(-from.top, down));
    box.left += x;
    box.right -= x;
    box.top += y;
    box.bottom -= y;
  } else {
    const between = (value, most) => Math.min(most, Math.max(0, value));
    if (name.includes("left")) box.left = between(from.left + across, 100 - LEAST - from.right);
    if (name.includes("right")) box.right = between(from.right - across, 100 - LEAST - from.left);
    if (name.includes("top")) box.top = between(from.top + down, 100 - LEAST - from.bottom);
    if (name.includes("bottom")) box.bottom = between(from.bottom - down, 100 - LEAST - from.top);
  }
  write(box);
  draw();
}

const tell = () => field("cut_left").dispatchEvent(new Event("change", { bubbles: true }));

let held = null; // {name, id, x, y, box}

function percent(event) {
  const matrix = stage.getScreenCTM();
  return { x: ((event.clientX / matrix.a) / wide) * 100, y: ((event.clientY / matrix.d) / high) * 100 };
}

function watch(group) {
  const name = group.dataset.grip;
  // Inside a drawing touch-action alone does not keep browsers from scrolling the page away under the finger.
  group.addEventListener("touchstart", (event) => event.preventDefault(), { passive: false });
  group.addEventListener("pointerdown", (event) => {
    group.setPointerCapture(event.pointerId);
    held = { name, id: event.pointerId, ...percent(event), box: read() };
    event.preventDefault();
    if (group.tabIndex === 0) group.focus({ preventScroll: true });
  });
  group.addEventListener("pointermove", (event) => {
    if (held?.id !== event.pointerId) return;
    const now = percent(event);
    move(held.name, held.box, now.x - held.x, now.y - held.y);
  });
  for (const end of ["pointerup", "pointercancel"]) {
    group.addEventListener(end, (event) => {
      if (held?.id !== event.pointerId) return;
      held = null;
      tell();
    });
  }
  group.addEventListener("keydown", (event) => {
    const step = event.shiftKey ? 5 : 1;
    const [across, down] = { ArrowLeft: [-step, 0], ArrowRight: [step, 0], ArrowUp: [0, -step], ArrowDown: [0, step] }[event.key] ?? [0, 0];
    if (!across && !down) return;
    event.preventDefault();
    move(name, read(), across, down);
    tell();
  });
}

// As the server lightens: the code to the power 2^-b, then both halves of the scale bent by 2^c.
function light() {
  const b = (Number(field("brightness").value) || 0) / 100;
  const c = (Number(field("contrast").value) || 0) / 100;
  const image = document.getElementById("stage-image");
  if (!b && !c) {
    image.removeAttribute("filter");
    return;
  }
  const table = Array.from({ length: 33 }, (_, at) => {
    const share = (at / 32) ** (2 ** -b);
    const half = 0.5 * (2 * Math.min(share, 1 - share)) ** (2 ** c);
    return (share < 0.5 ? half : 1 - half).toFixed(4);
  }).join(" ");
  for (const part of document.querySelectorAll("#light feFuncR, #light feFuncG, #light feFuncB")) {
    part.setAttribute("tableValues", table);
  }
  image.setAttribute("filter", "url(#light)");
}

// The fields that only count with one of the choices are shown with it.
function choose() {
  const chosen = (name) => form.querySelector(`input[name=${name}]:checked`)?.value;
  document.getElementById("ground-colour").hidden = chosen("ground") !== "colour";
  document.getElementById("outline-letters").hidden = chosen("outline") !== "letters";
}

const UNITS = { level: (value) => `${value}°`, brightness: (value) => `${value} %`, contrast: (value) => `${value} %` };

function sliders() {
  for (const [name, words] of Object.entries(UNITS)) {
    const label = form.querySelector(`label[for=id_${name}]`);
    label.classList.add("label-line");
    const told = label.querySelector("output") ?? label.appendChild(document.createElement("output"));
    const value = Number(field(name).value) || 0;
    told.textContent = value > 0 ? `+${words(value)}` : words(value);
    field(name).setAttribute("aria-valuetext", told.textContent);
  }
}

grip("all", "Move the part that is shown", "all");
grip("left", "Cut off at the left", "across");
grip("right", "Cut off at the right", "across");
grip("top", "Cut off at the top", "down");
grip("bottom", "Cut off at the foot", "down");
for (const corner of ["left top", "right top", "left bottom", "right bottom"]) grip(corner, "", "corner");
Object.values(grips).forEach(watch);
document.getElementById("stage-hint").hidden = false;

form.addEventListener("input", () => {
  draw();
  light();
  sliders();
});
form.addEventListener("change", () => {
  draw();
  choose();
});
new ResizeObserver(draw).observe(stage);
draw();
light();
choose();
sliders();
