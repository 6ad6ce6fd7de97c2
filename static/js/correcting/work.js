// The lines and what becomes of them: a change is shown at once, sent, and taken back when the
// server refuses it.

import { applied } from "./changes.js";
import { Sender } from "./send.js";
import { keepUndone, undoneBefore } from "./undone.js";

const byId = (lines) => new Map(lines.map((line) => [line.id, line]));

export class Work {
  // `state` is what the page came with (views/patterns/correcting_state.py); `token` guards forms.
  // `on` has: settle(), before anything new is asked; show(); say(words); refuse(words);
  // answered(moved), with whether the page has another address now; made(id), a new line.
  constructor(state, token, on) {
    Object.assign(this, { state, on });
    this.known = byId(state.lines); // as the server has them
    this.lines = this.known; // as they are shown
    this.redo = undoneBefore(state);
    this.waitsForNew = false;
    this.sender = new Sender(token, {
      state: () => this.state,
      yes: (answer, job) => this.heard(answer, job),
      no: (text, answer) => this.refused(text, answer),
      wait: on.refuse,
    });
  }

  get isBusy() {
    return this.sender.waiting.length > 0;
  }

  get mayUndo() {
    return this.state.count > 0 || this.isBusy;
  }

  change(...changes) {
    this.on.settle();
    this.redo = [];
    this.put(changes);
  }

  // A change that was shown on top of the lines `base` already.
  changeFrom(base, asked) {
    this.lines = base;
    this.change(asked);
  }

  // The lines as they would be, without asking anybody.
  preview(base, asked) {
    this.lines = applied(base, asked);
  }

  undo() {
    this.on.settle();
    this.on.refuse("");
    if (!this.mayUndo) return;
    this.on.say("Undoing…");
    this.sender.undo();
  }

  doAgain() {
    const group = this.redo.pop();
    if (group) this.put(group, true);
  }

  keepUndone() {
    if (!this.isBusy) keepUndone(this.state, this.redo);
  }

  put(changes, again = false) {
    this.on.refuse("");
    for (const each of changes) {
      if (each.do === "name") this.nameLines(each.labels);
      if (each.do === "new-hole") this.waitsForNew = true;
      this.lines = applied(this.lines, each);
    }
    this.on.say("Checking…");
    this.sender.change(changes, again);
    this.on.show();
  }

  nameLines(labels) {
    const { labels: known, names } = this.state;
    for (const [id, label] of Object.entries(labels)) {
      if (label && known[id]) known[id] = { ...known[id], label, now: names[label] };
    }
  }

  heard(answer, job) {
    this.adopt(answer.state);
    if (job.undo) this.redo.push(answer.undone);
    this.on.refuse("");
    this.on.show();
    this.on.say(`Checked again: ${this.state.summary}.`);
  }

  refused(text, answer) {
    if (answer.state) {
      this.redo = [];
      this.adopt(answer.state);
    } else {
      this.lines = this.known;
    }
    this.on.show();
    this.on.refuse(text);
    this.on.say("");
  }

  adopt(fresh) {
    const before = this.known;
    this.known = fresh.all ? byId(fresh.lines) : new Map(this.known);
    for (const each of fresh.lines) this.known.set(each.id, each);
    for (const id of fresh.gone ?? []) this.known.delete(id);
    const moved = fresh.urls.page !== this.state.urls.page;
    Object.assign(this.state, fresh);
    this.on.answered(moved);
    this.lines = this.known;
    // What waits still is shown on top of what the server has now; the first was just answered.
    for (const job of this.sender.waiting) {
      for (const each of job.changes ?? []) this.lines = applied(this.lines, each);
    }
    if (!this.waitsForNew) return;
    const made = [...this.known.keys()].find((id) => !before.has(id));
    if (made) this.on.made(made);
    this.waitsForNew = false;
  }
}
