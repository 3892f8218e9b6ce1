// Keeping what is painted. Each stroke goes into the phone's outbox with what the painter saw before, and from there to
// the studio, with a signal or later. What others painted comes in at calm intervals, with one's own unsent strokes on
// top. Cells that both painted are not decided here: theirs are shown, ours are kept until somebody chooses.

import { outbox } from "../outbox.js";
import { cellsWords, eachOf, runsOf, unpackedBits, unpackedCells } from "./cells.js";

const CALM = 12_000;
const WORDS = { "no signal": "Kept on this phone", "sign in": "Sign in to save", "not yours": "Not saved" };
WORDS["other person"] = WORDS["not yours"];

export class Sending {
  constructor(editor, data, address) {
    Object.assign(this, { editor, address, items: data.items, version: data.version, saved: data.saved });
    this.entity = `panel:${data.panel}`;
    this.size = [data.rows, data.columns];
    this.palette = data.palette;
    this.free = new Map(data.free);
    this.beside = data.beside;
    this.pending = []; // strokes that the studio has not answered, oldest first
    this.mine = new Map(); // our colours of disputed cells
    this.who = "";
    this.known = new Set();
    this.stroke = 0;
  }

  async start() {
    outbox.listen(this.entity, (news) => this.heard(news));
    outbox.listen("*", (news) => news.kind === "state" && this.tellState(news.state));
    this.editor.on("stroke", (stroke) => this.put(stroke));
    for (const entry of await outbox.waiting(this.entity)) {
      this.known.add(entry.op_id);
      if (entry.state === "queued") this.pending.push({ op_id: entry.op_id, body: entry.body });
      else if (entry.state === "conflict") this.remade();
    }
    if (this.pending.length) this.show(this.editor.cells.now.slice(), this.editor.cells.locked.slice());
    this.recall();
    const lasting = await outbox.lasting;
    if (!lasting) this.editor.tell("problem", "This browser keeps nothing: stay on this page until it says Saved.");
    setInterval(() => document.hidden || this.refresh(), CALM);
    document.addEventListener("visibilitychange", () => document.hidden || this.refresh());
    this.refresh();
  }

  // ---- out
  put(stroke) {
    this.send(stroke.kind === "lock" ? "locks" : "cells", runsOf(stroke));
  }

  // After all strokes before it, as the outbox keeps their order.
  outline() {
    if (this.frozen) return;
    this.send("outline", []);
    const whole = this.editor.balloons === this.editor.grid.size;
    const words = "Cells without balloons stay so when the picture is made anew.";
    this.editor.say(whole ? "Every cell has a balloon: the outline is the whole rectangle." : words);
  }

  send(layer, runs) {
    const body = { size: this.size, palette: this.items, runs, layer };
    const waits = { op_id: null, body };
    this.pending.push(waits);
    this.tellState("waiting");
    outbox.put("chart.paint", this.entity, body, { base_version: this.version }).catch(() => {
      this.editor.tell("problem", "This browser could not keep the last stroke. Stay on this page and paint it again.");
    });
  }

  heard({ kind, entry, answer }) {
    if (kind === "queued") {
      const ours = this.pending.find((one) => one.body === entry.body);
      if (ours) ours.op_id = entry.op_id;
      if (ours) this.known.add(entry.op_id);
    } else if (kind === "sent") this.arrived(entry, answer);
    else if (kind === "conflict") this.remade();
    else if (kind === "refused") this.refused(entry, answer);
  }

  arrived(entry, answer) {
    this.settle(entry.op_id);
    const missed = answer.before !== this.version || !this.known.has(entry.op_id);
    this.version = Math.max(this.version, answer.version);
    this.saved = answer.saved;
    if (this.strange(answer.palette)) return;
    if (answer.disputed.length) this.dispute(answer);
    // Others painted before this stroke: their cells are not on this page yet.
    if (missed) this.refresh(true);
    else this.editor.tell("saved");
  }

  settle(op_id) {
    this.pending = this.pending.filter((one) => one.op_id !== op_id);
  }

  refused(entry, answer) {
    this.settle(entry.op_id);
    outbox.drop(entry.op_id);
    this.editor.tell("problem", `The last stroke was not kept. ${answer.message ?? ""}`);
    this.refresh(true);
  }

  // ---- in
  async refresh(all = false) {
    if (this.editor.under || this.frozen) return;
    if (this.asking) {
      this.once = this.once || all;
      return;
    }
    this.asking = true;
    try {
      const answer = await fetch(`${this.address}?version=${all ? 0 : this.version}`);
      if (answer.status === 200 && !answer.redirected) this.take(await answer.json());
    } catch {
      // No signal: the outbox says so, and it is asked again by itself.
    }
    this.asking = false;
    if (this.once) {
      this.once = false;
      this.refresh(true);
    }
  }

  take(state) {
    if (state.version < this.version || this.editor.under) return void setTimeout(() => this.refresh(true), 500);
    if (state.rows !== this.size[0] || state.columns !== this.size[1]) return this.remade();
    if (this.strange(state.palette)) return;
    const theirs = state.palette.map((item) => this.items.indexOf(item));
    const cells = unpackedCells(state.cells).map((number) => (number < 0 ? -1 : theirs[number]));
    const newer = state.version > this.version;
    Object.assign(this, { version: state.version, saved: state.saved, free: new Map(state.free), beside: state.beside });
    const differ = this.show(cells, unpackedBits(state.locked, cells.length));
    if (newer && differ.length) this.editor.say(`Painted by somebody else: ${cellsWords(differ.length)}.`);
    this.editor.tell("saved");
  }

  // The studio's cells with what it has not got yet on top.
  show(cells, locked) {
    for (const { body } of this.pending) {
      const ours = body.palette.map((item) => this.items.indexOf(item));
      eachOf(body.runs, (at, now) => {
        if (body.layer === "locks") locked[at] = now;
        else if (at < cells.length) cells[at] = now < 0 ? -1 : ours[now];
      });
    }
    return this.editor.take(cells, locked);
  }

  // A colour that this page cannot draw: somebody gave the panel a balloon that was new in stock.
  strange(palette) {
    this.palette = palette;
    if (palette.every((item) => this.items.includes(item))) return false;
    location.reload();
    return true;
  }

  remade() {
    if (this.frozen) return;
    this.frozen = true;
    this.editor.frozen = true;
    let cells = 0;
    for (const { body } of this.pending) eachOf(body.runs, () => cells++);
    this.editor.tell("remade", cells);
  }

  // Whoever chose the new chart lets go of strokes that do not fit it.
  async letGo() {
    for (const entry of await outbox.waiting(this.entity)) await outbox.drop(entry.op_id);
    location.reload();
  }

  // ---- cells that both painted
  dispute({ disputed, who, palette }) {
    const local = (number) => (number < 0 ? -1 : this.items.indexOf(palette[number]));
    const covered = new Set();
    for (const { body } of this.pending) if (body.layer === "cells") eachOf(body.runs, (at) => covered.add(at));
    const shown = [];
    eachOf(disputed, (at, theirs, ours) => {
      this.mine.set(at, local(ours));
      if (covered.has(at)) return; // painted again since: that stroke's own answer is on its way
      this.editor.cells.put(at, local(theirs));
      shown.push(at);
    });
    this.who = who;
    if (shown.length) this.editor.tell("touched", shown);
    this.remember();
    this.tellDispute();
    this.editor.tell("changed");
  }

  get place() { return `chart ${this.entity} mine`; }

  remember() {
    if (!this.mine.size) return localStorage.removeItem(this.place);
    const at = [...this.mine.keys()].sort((one, other) => one - other);
    const runs = runsOf({ at, now: at.map((one) => this.mine.get(one)), was: at.map(() => 0) });
    localStorage.setItem(this.place, JSON.stringify({ size: this.size, items: this.items, who: this.who, at: location.pathname, runs }));
  }

  recall() {
    const kept = JSON.parse(localStorage.getItem(this.place) ?? "null");
    if (!kept) return;
    if (kept.size.join() !== this.size.join()) {
      localStorage.removeItem(this.place);
      this.editor.tell("problem", "Cells that both of you had painted do not fit the chart's new size; yours are let go.");
      return;
    }
    this.who = kept.who;
    eachOf(kept.runs, (at, ours) => this.mine.set(at, ours < 0 ? -1 : this.items.indexOf(kept.items[ours])));
    this.tellDispute();
  }

  tellDispute() {
    this.editor.tell("dispute", { who: this.who, cells: this.mine.size });
  }

  answer(mine) {
    const at = [...this.mine.keys()], colours = at.map((one) => this.mine.get(one));
    this.mine.clear();
    this.remember();
    this.tellDispute();
    if (mine) this.editor.commit(at, colours);
  }

  // ---- what the bar says
  tellState(state) {
    this.editor.tell("kept", this.pending.length ? WORDS[state] ?? "Saving" : `Saved ${this.saved}`);
  }
}
