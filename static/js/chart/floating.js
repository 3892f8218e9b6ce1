// What can be done with what is selected: emptied, painted, locked, mirrored, turned, copied, moved. A copied or moved
// shape floats over the chart until it is put down.

import { cellsWords } from "./cells.js";
import {
  alike, canQuarter, halfTurned, landed, lifted, middleOf, mirroredAcross, mirroredDown, moved, quarterTurned,
} from "./shapes.js";

class Floating {
  constructor(shape, left) {
    this.shape = shape;
    this.left = left; // cells that the shape leaves behind when it was moved, not copied
  }
  landing(grid) {
    return { at: landed(grid, this.shape), colours: this.shape.map((cell) => cell.colour) };
  }
}

const TURNS = { sides: mirroredAcross, ups: mirroredDown, half: halfTurned, quarter: quarterTurned };
const WORDS = { sides: "Mirrored.", ups: "Flipped.", half: "Turned by half.", quarter: "Turned a quarter." };
const NO_QUARTER = "A quarter turn does not fit these rows; a half turn does.";

export function actsOf(editor) {
  const { grid } = editor;
  const needed = (then) => () => (editor.selected ? then(editor.chosen) : editor.say("Select some cells first."));

  function float(shape, left) {
    if (!shape.length) return editor.say("There is no balloon in it.");
    editor.floating = new Floating(shape, left);
    editor.select([]);
    editor.say("Drag it, or use the arrows; then Put down.");
    editor.tell("changed");
    editor.tell("over");
  }

  function turn(how) {
    if (how === "quarter" && !canQuarter(grid)) {
      return editor.say(NO_QUARTER);
    }
    if (editor.floating) {
      editor.floating.shape = TURNS[how](grid, editor.floating.shape);
      editor.say(WORDS[how]);
      return editor.tell("over");
    }
    needed((numbers) => {
      const shape = TURNS[how](grid, lifted(grid, editor.cells.now, numbers));
      if (!shape.length) return editor.say("There is no balloon in it.");
      const at = landed(grid, shape);
      editor.commit(at, shape.map((cell) => cell.colour));
      editor.select(at.filter((one) => one >= 0));
      editor.say(WORDS[how]);
    })();
  }

  function move(rows, across) {
    editor.floating.shape = moved(grid, editor.floating.shape, rows, across);
    editor.tell("over");
  }

  return {
    move,
    turn,
    all: () => { editor.select([...Array(grid.size).keys()]); editor.say("All cells are selected."); },
    none: () => { editor.select([]); editor.say("Nothing is selected."); },
    colour: () => {
      const numbers = alike(editor.cells.now, editor.colour);
      editor.select(numbers);
      editor.say(`Selected of ${editor.colourWords(editor.colour)}: ${cellsWords(numbers.length)}.`);
    },
    paint: needed((numbers) => { editor.commit(numbers, editor.colour); }),
    empty: needed((numbers) => {
      const { at } = editor.commit(numbers, -1);
      if (at.length) editor.say(`Without balloons now: ${cellsWords(at.length)}.`);
    }),
    lock: needed((numbers) => editor.lock(numbers, 1)),
    unlock: needed((numbers) => editor.lock(numbers, 0)),
    lift: needed((numbers) => float(lifted(grid, editor.cells.now, numbers), numbers)),
    copy: needed((numbers) => {
      editor.clip = lifted(grid, editor.cells.now, numbers);
      editor.say(`${cellsWords(numbers.length)} copied.`);
      editor.tell("changed");
    }),
    paste: () => {
      if (!editor.clip) return editor.say("Nothing is copied yet.");
      const { view } = editor;
      const to = grid.nearest(view.x + view.width / view.scale / 2, view.y + view.height / view.scale / 2);
      const middle = middleOf(editor.clip);
      const aim = to < 0 ? middle : { row: grid.row(to), across: grid.across(to) };
      float(moved(grid, editor.clip, Math.round(aim.row - middle.row), Math.round(aim.across - middle.across)));
    },
    down: () => {
      const { shape, left } = editor.floating;
      const at = landed(grid, shape);
      const covered = new Set(at);
      const numbers = [...(left ?? [])].filter((one) => !covered.has(one)), colours = numbers.map(() => editor.colour);
      at.forEach((one, index) => {
        if (one < 0) return;
        numbers.push(one);
        colours.push(shape[index].colour);
      });
      editor.floating = null;
      editor.commit(numbers, colours);
      const lost = at.filter((one) => one < 0).length;
      const rest = left ? ` What it left is ${editor.colourWords(editor.colour)} now.` : "";
      editor.say(`It is put down.${rest}${lost ? ` ${lost} of its cells fell off the edge.` : ""}`);
      editor.tell("changed");
      editor.tell("over");
    },
    drop: () => {
      editor.floating = null;
      editor.say("It is let go; nothing was changed.");
      editor.tell("changed");
      editor.tell("over");
    },
  };
}
