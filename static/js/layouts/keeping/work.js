// Where the pieces lie and what becomes of it: a change is shown at once, sent, and taken back when
// the server refuses it.

import { Sender } from "./send.js";
import { keyOf } from "../shapes.js";

const byKey = (placements) => new Map(placements.map((one) => [keyOf(one.piece, one.copy), one]));

export class Work {
  // `state` is what the page came with; `on` has show(), refuse(words), wait(seconds), tooOld(),
  // answered(before, job), refused(text).
  constructor(state, token, kept, on) {
    Object.assign(this, { state, on });
    this.take(state);
    this.sender = new Sender(token, kept, {
      state: () => this.state,
      yes: (answer, job) => this.heard(answer, job),
      no: (text, answer) => this.refused(text, answer),
      wait: on.wait,
      tooOld: on.tooOld,
    });
    for (const job of this.sender.resume()) this.preview(job);
  }

  get isBusy() {
    return this.sender.waiting.length > 0;
  }

  get mayUndo() {
    return this.state.may.change && (this.state.undo > 0 || this.isBusy);
  }

  get mayRedo() {
    return this.state.may.change && this.state.redo > 0;
  }

  placed(key) {
    return this.laid.get(key) ?? null;
  }

  // `changes` are { piece, copy, to }, with null for the tray; all of them or none.
  change(...changes) {
    this.send({ to: "change", fields: { changes: JSON.stringify(changes) } });
  }

  pin(item, on) {
    this.send({ to: "pin", fields: { piece: item.piece.id, copy: item.copy, on: on ? "1" : "" } });
  }

  undo() {
    if (this.mayUndo) this.send({ to: "undo", fields: {} });
  }

  redo() {
    if (this.mayRedo) this.send({ to: "redo", fields: {} });
  }

  send(job) {
    this.on.refuse("");
    this.preview(job);
    this.sender.add(job);
    this.on.show();
  }

  // As it will be when the server has done it; undoing is the server's alone.
  preview({ to, fields, shown }) {
    if (to === "change") {
      for (const { piece, copy, to: there } of JSON.parse(fields.changes)) {
        if (there) this.laid.set(keyOf(piece, copy), { piece, copy, ...there });
        else this.laid.delete(keyOf(piece, copy));
      }
    } else if (to === "pin") {
      const key = keyOf(fields.piece, fields.copy);
      if (fields.on) this.pinned.add(key);
      else this.pinned.delete(key);
    } else if (to === "cuts" && shown && this.parting) {
      const cuts = this.parting.cuts.map((cut) => (cut.id === shown.id ? { ...cut, line: shown.line, runs: shown.runs } : cut));
      this.parting = { ...this.parting, cuts };
    }
  }

  heard(answer, job) {
    const before = this.state.judged;
    if (answer.state) this.adopt(answer.state);
    this.on.refuse("");
    this.on.answered(before, job);
  }

  refused(text, answer) {
    this.adopt(answer.state ?? {});
    this.on.refused(text);
  }

  // What the server has now, with what waits still on top of it; whoever calls shows it.
  adopt(fresh) {
    if (fresh.stock !== undefined && fresh.stock !== this.state.stock) {
      location.reload(); // other stock pieces, as after undoing their choice
      return;
    }
    Object.assign(this.state, fresh);
    this.take(this.state);
    for (const job of this.sender.waiting) this.preview(job);
  }

  take(state) {
    this.laid = byKey(state.placements);
    this.parting = state.parting ?? null;
    this.pinned = new Set((state.pinned ?? []).map(([piece, copy]) => keyOf(piece, copy)));
  }
}
