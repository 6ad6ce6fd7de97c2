// What is wrong where pieces lie, as the geometry finds it at once; the judge's own list follows
// with the server's answer.

import { keyOf } from "./shapes.js";

export class Faults {
  constructor(bench) {
    this.bench = bench;
    this.laid = new Map();
    this.found = new Map(); // by key
  }

  // Looks again at what lies otherwise than before, and at what that touched.
  look(laid) {
    const before = this.laid;
    const moved = new Set([...laid.keys(), ...before.keys()].filter((key) => !same(laid.get(key), before.get(key))));
    if (moved.size === 0) return;
    this.laid = new Map(laid);
    this.bench.set([...laid.values()]);
    const touched = new Set(moved);
    for (const [key, faults] of this.found) {
      if (faults.some((fault) => moved.has(other(fault)))) touched.add(key);
    }
    for (const key of touched) {
      const place = laid.get(key);
      if (place) this.found.set(key, on(place, this.bench.look(place)));
      else this.found.delete(key);
    }
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

  isFaulty(key) {
    if (this.found.get(key)?.length) return true;
    return [...this.found.values()].some((faults) => faults.some((fault) => other(fault) === key));
  }
}

export const on = (place, faults) => (faults ?? []).map((fault) => ({ ...fault, metal: place.metal }));
const other = (fault) => (fault.kind === "piece" ? keyOf(fault.piece, fault.copy) : "");

function same(one, two) {
  if (!one || !two) return one === two;
  return ["metal", "x_mm", "y_mm", "turn_deg", "mirror"].every((name) => one[name] === two[name]);
}
