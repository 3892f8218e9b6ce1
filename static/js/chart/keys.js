// The same with keys: arrows walk, Enter uses the tool. The list stands in the page under Keys.

const WALK = { ArrowLeft: [0, -1], ArrowRight: [0, 1], ArrowUp: [-1, 0], ArrowDown: [1, 0] };
const TOOLS = { b: "brush", l: "line", x: "box", f: "fill", w: "swap", s: "select", i: "pick" };
const TURNS = { h: "sides", v: "ups", t: "half", q: "quarter" };
const ACTS = { a: "all", n: "none", m: "lift", p: "paint", Delete: "empty", Backspace: "empty" };

export function keysOn(canvas, editor, tools, look) {
  const { grid, view, cursor } = editor;

  function go(at) {
    cursor.at = at;
    cursor.shown = true;
    if (!view.near) view.scale = view.close;
    view.reveal(at);
    look.moved();
    // A line or box that has one end follows the cursor to its other.
    const tool = tools[editor.tool];
    if (tool?.from !== undefined) tool.show(editor, at, grid.x(at), grid.y(at));
    editor.tellCell(at);
  }

  function walk([down, right], shift) {
    if (editor.floating) return look.acts.move(down, down && grid.lean ? (grid.row(cursor.at) % 2 ? 1 : -1) : 2 * right);
    if (!cursor.shown) return go(cursor.at);
    const row = Math.min(grid.rows - 1, Math.max(0, grid.row(cursor.at) + down));
    const column = Math.min(grid.columns - 1, Math.max(0, grid.column(cursor.at) + right));
    go(row * grid.columns + column);
    if (shift) use(tools.brush);
  }

  function use(tool) {
    const { at } = cursor;
    cursor.shown = true;
    if (!tool) return editor.tellCell(at);
    tool.start(editor, at, grid.x(at), grid.y(at));
    tool.end(editor, at);
    look.drawOver();
  }

  function ends(key, all) {
    const row = grid.row(cursor.at);
    if (key === "Home") go(all ? 0 : row * grid.columns);
    else go(all ? grid.size - 1 : (row + 1) * grid.columns - 1);
  }

  const plain = {
    Enter: () => (editor.floating ? look.acts.down() : use(tools[editor.tool])),
    Escape: escape,
    r: () => editor.say(editor.rowWords(grid.row(cursor.at))),
    c: () => editor.tellCell(cursor.at),
    k: () => (editor.selected ? look.acts.lock() : editor.lock([cursor.at], 1)),
    u: () => (editor.selected ? look.acts.unlock() : editor.lock([cursor.at], 0)),
    y: () => look.toggle("sides"),
    j: () => look.toggle("ups"),
    g: () => look.toggle("numbers"),
    o: () => look.toggle("through"),
    z: (shift) => (shift ? editor.redo() : editor.undo()),
    "+": () => look.zoom(1.6),
    "=": () => look.zoom(1.6),
    "-": () => look.zoom(1 / 1.6),
    ",": () => look.nextColour(-1),
    ".": () => look.nextColour(1),
    "?": () => look.help(),
  };
  plain[" "] = plain.Enter;

  function escape() {
    tools[editor.tool]?.cancel(editor);
    if (editor.floating) look.acts.drop();
    else if (editor.selected) look.acts.none();
  }

  function withControl(event) {
    const key = event.key.toLowerCase();
    const acts = { z: () => (event.shiftKey ? editor.redo() : editor.undo()), y: () => editor.redo() };
    Object.assign(acts, { c: look.acts.copy, v: look.acts.paste, a: look.acts.all });
    acts.home = () => ends("Home", true);
    acts.end = () => ends("End", true);
    return acts[key];
  }

  function without(event) {
    const { key } = event, small = key.length === 1 ? key.toLowerCase() : key;
    if (WALK[key]) return () => walk(WALK[key], event.shiftKey);
    if (key === "Home" || key === "End") return () => ends(key, false);
    if (/^[0-9]$/.test(key)) return () => look.colour(Number(key) - 1);
    if (TOOLS[small]) return () => look.tool(TOOLS[small]);
    if (TURNS[small]) return () => look.acts.turn(TURNS[small]);
    if (ACTS[small] || ACTS[key]) return look.acts[ACTS[small] ?? ACTS[key]];
    return plain[small] && (() => plain[small](event.shiftKey));
  }

  canvas.addEventListener("keydown", (event) => {
    if (event.altKey) return;
    const act = event.ctrlKey || event.metaKey ? withControl(event) : without(event);
    if (!act) return;
    event.preventDefault();
    act();
  });
  canvas.addEventListener("blur", () => {
    cursor.shown = false;
    look.drawOver();
  });
}
