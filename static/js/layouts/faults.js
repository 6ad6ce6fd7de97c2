// What is wrong where pieces lie, as the geometry finds it at once; the judge's own list follows
// with the server's answer. Looking takes its time, a little of it between two pictures.

import { keyOf } from "./shapes.js";

const SLICE_MS = 8;
const RESTING_MS = 100;

export class Faults {
  // `rests` says whether something else is more urgent; `changed` is called when all was looked at.
  constructor(bench, rests, changed) {
    Object.assign(this, { bench, rests, changed });
    this.laid = new Map();
    this.fixed = [];
    this.found = new Map(); // by key
    this.waiting = new Set();
    this.timer = 0;
  }

  // Looks again at what lies otherwise than before, and at what that touched, a moment later: what
  // was just let go of is shown first.
  look(laid, fixed = []) {
    const before = this.laid;
    const moved = new Set([...laid.keys(), ...before.keys()].filter((key) => !same(laid.get(key), before.get(key))));
    if (moved.size === 0) return;
    this.laid = new Map(laid);
    this.bench.set([...laid.values()], fixed);
    for (const key of moved) this.waiting.add(key);
    for (const [key, faults] of this.found) {
      if (faults.some((fault) => moved.has(other(fault)))) this.waiting.add(key);
    }
    this.later();
  }

  // Looks at all of them once more: what they keep away from is another.
  again() {
    for (const key of this.laid.keys()) this.waiting.add(key);
    if (this.waiting.size) this.later();
  }

  // Of a piece that was in hand they are known where it is laid.
  know(key, faults) {
    this.found.set(key, faults);
  }

  later() {
    clearTimeout(this.timer);
    this.timer = setTimeout(() => this.go(), this.rests() ? RESTING_MS : 0);
  }

  go() {
    const end = performance.now() + SLICE_MS;
    for (const key of this.waiting) {
      if (performance.now() > end || this.rests()) {
        this.later();
        return;
      }
      this.waiting.delete(key);
      const place = this.laid.get(key);
      if (place) this.found.set(key, on(place, this.bench.look(place)));
      else this.found.delete(key);
    }
    this.changed();
  }

  // All of them; without those of one piece that is in hand.
  all(without = "") {
    const seen = new Set();
    const kept = [];
    for (const [key, faults] of this.found) {
      if (key === without) continue;
      for (const fault of faults) {
        if (without && other(fault) === without) continue;
        // Two pieces that are too close find each other: it is drawn once.
        if (fault.kind === "piece" && seen.has(`${other(fault)} ${key}`)) continue;
        if (fault.kind === "piece") seen.add(`${key} ${other(fault)}`);
        kept.push(fault);
      }
    }
    return kept;
  }

  // The pieces that have one, or are named in another's.
  get keys() {
    const keys = new Set();
    for (const [key, faults] of this.found) {
      if (faults.length) keys.add(key);
      for (const fault of faults) keys.add(other(fault));
    }
    return keys;
  }
}

export const on = (place, faults) => (faults ?? []).map((fault) => ({ ...fault, metal: place.metal }));
const other = (fault) => (fault.piece === null || fault.piece === undefined ? "" : keyOf(fault.piece, fault.copy));

function same(one, two) {
  if (!one || !two) return one === two;
  return ["metal", "x_mm", "y_mm", "turn_deg", "mirror"].every((name) => one[name] === two[name]);
}
