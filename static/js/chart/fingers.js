// Fingers and mice. Where cells are large enough one finger uses the tool; elsewhere a tap comes nearer and a drag moves
// the chart. Two fingers always move and pinch, and take back what the first one had begun.

import { NEAR } from "./view.js";

const STILL = 8; // pixels that a tap may slip
const MEANT = 400; // a stroke older than this was meant: a second finger ends it instead of taking it back
const FINE = 8; // a mouse points more exactly than a finger: cells of this many pixels will do

export function fingersOn(canvas, editor, tools, look) {
  const { view } = editor;
  const fingers = new Map();
  let working = null; // the tool that the first finger holds
  let began = 0, moved = false, carried = null;
  let box = canvas.getBoundingClientRect(); // asked for as the first finger comes down: to ask lays the page out anew

  const place = (event) => {
    if (!fingers.size) box = canvas.getBoundingClientRect();
    return { x: event.clientX - box.left, y: event.clientY - box.top };
  };
  const usable = (event) => {
    const size = view.scale * Math.min(1, editor.grid.step);
    return size >= (event.pointerType === "mouse" ? FINE : NEAR);
  };
  const at = (spot) => view.cellAt(spot.x, spot.y);

  function begin(event, spot) {
    if (event.button > 0 || editor.tool === "hand" || !usable(event)) return;
    const cell = at(spot);
    if (cell < 0) return;
    if (editor.floating) {
      carried = { row: editor.grid.row(cell), across: editor.grid.across(cell) };
      return;
    }
    working = tools[editor.tool];
    const { x, y } = view.under(spot.x, spot.y);
    working.start(editor, cell, x, y);
  }

  function stop() {
    if (working) {
      if (editor.under && performance.now() - began > MEANT) working.end(editor);
      else working.cancel(editor);
    }
    working = carried = null;
  }

  canvas.addEventListener("pointerdown", (event) => {
    const spot = place(event);
    canvas.setPointerCapture(event.pointerId);
    if (!fingers.size) {
      fingers.set(event.pointerId, { ...spot, from: spot });
      moved = false;
      began = performance.now();
      if (event.button === 1) event.preventDefault();
      editor.cursor.shown = false;
      begin(event, spot);
      return;
    }
    fingers.set(event.pointerId, { ...spot, from: spot });
    moved = true; // a second finger is never a tap
    stop();
  });

  canvas.addEventListener("pointermove", (event) => {
    const finger = fingers.get(event.pointerId);
    if (!finger) return;
    const spot = place(event);
    if (fingers.size === 1) one(event, finger, spot);
    else if (fingers.size === 2) pinch(event, finger, spot);
    Object.assign(finger, spot);
  });

  function one(event, finger, spot) {
    if (!moved && Math.hypot(spot.x - finger.from.x, spot.y - finger.from.y) < STILL) return;
    moved = true;
    if (carried) return carry(spot);
    if (!working) {
      view.move(spot.x - finger.x, spot.y - finger.y);
      return look.moved();
    }
    // The browser gathers several places into one event; a fast stroke shall have no gaps.
    const ways = event.getCoalescedEvents?.() ?? [];
    for (const way of ways.length ? ways : [event]) {
      const there = place(way), { x, y } = view.under(there.x, there.y);
      working.move(editor, editor.grid.nearest(x, y), x, y);
    }
  }

  function carry(spot) {
    const cell = at(spot);
    if (cell < 0) return;
    const rows = editor.grid.row(cell) - carried.row, across = editor.grid.across(cell) - carried.across;
    if (!rows && Math.abs(across) < 2 - editor.grid.lean) return;
    look.acts.move(rows, across);
    carried = { row: carried.row + rows, across: carried.across + across };
  }

  function pinch(event, finger, spot) {
    const other = [...fingers].find(([id]) => id !== event.pointerId)[1];
    const before = Math.hypot(finger.x - other.x, finger.y - other.y);
    const after = Math.hypot(spot.x - other.x, spot.y - other.y);
    // Half of a finger's way moves the middle between the two.
    view.move((spot.x - finger.x) / 2, (spot.y - finger.y) / 2);
    if (before > 0) view.zoom((view.scale * after) / before, (spot.x + other.x) / 2, (spot.y + other.y) / 2);
    look.moved();
  }

  canvas.addEventListener("pointerup", (event) => {
    const finger = fingers.get(event.pointerId);
    fingers.delete(event.pointerId);
    if (!finger || fingers.size) return;
    const used = working, was = carried;
    working = carried = null;
    if (used) used.end(editor, at(finger));
    else if (!moved && !was) tapped(finger);
    const cell = at(finger);
    if (cell >= 0) editor.cursor.at = cell;
  });

  function tapped(finger) {
    const cell = at(finger);
    if (cell < 0) return;
    if (editor.tool !== "hand" && !view.near) {
      view.zoom(view.close, finger.x, finger.y);
      view.centre(cell);
      look.moved();
    }
    editor.tellCell(cell);
  }

  canvas.addEventListener("pointercancel", (event) => {
    fingers.delete(event.pointerId);
    stop();
  });

  canvas.addEventListener(
    "wheel",
    (event) => {
      if (!event.ctrlKey) return; // the plain wheel scrolls the page
      event.preventDefault();
      const spot = place(event);
      view.zoom(view.scale * Math.exp(-event.deltaY / 200), spot.x, spot.y);
      look.moved();
    },
    { passive: false },
  );
}
