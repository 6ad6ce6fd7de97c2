// The bench as the layout table sees it: stock pieces, what lies on them, and one piece in the
// hand. Nothing here touches the page; README.md beside this says what is promised.

import { Ground, lies } from "./ground.js";
import { Look, outsideFault } from "./look.js";
import { Shape } from "./shapes.js";

export class Bench {
  // `rules`, `metal` and `pieces` are those of the table's state.
  constructor(rules, metal, pieces) {
    this.rules = rules;
    this.metal = new Map(metal.map((one) => [one.id, one]));
    this.shapes = new Map(pieces.map((piece) => [piece.id, new Shape(piece)]));
    this.set([]);
  }

  // Where all lie, in the order of the state; `fixed` are [piece, copy] as in the state.
  set(placements, fixed = []) {
    this.placements = placements;
    this.fixed = new Set(fixed.map(([piece, copy]) => keyOf(piece, copy)));
    this.held = null;
  }

  // One piece in the hand: all others are in its way.
  hold(piece, copy) {
    if (this.held?.piece !== piece || this.held.copy !== copy) {
      this.held = new Held(this, piece, copy);
    }
    return this.held;
  }

  // What is wrong with a piece at a place; [] is good.
  look(placement) {
    return this.hold(placement.piece, placement.copy).look(placement);
  }
}

const keyOf = (piece, copy) => `${copy} ${piece}`;

class Held {
  constructor(bench, piece, copy) {
    this.bench = bench;
    this.piece = piece;
    this.copy = copy;
    this.shape = bench.shapes.get(piece);
    this.order = bench.placements.findIndex((p) => p.piece === piece && p.copy === copy);
    this.from = this.order < 0 ? null : bench.placements[this.order];
    if (this.order < 0) this.order = bench.placements.length;
    this.looks = new Map();
  }

  lookOn(metal) {
    if (!this.looks.has(metal)) {
      const { bench } = this;
      const others = [];
      for (const [order, p] of bench.placements.entries()) {
        if (p.metal !== metal || order === this.order) continue;
        const turned = bench.shapes.get(p.piece).turned(p.mirror, p.turn_deg);
        others.push({ piece: p.piece, copy: p.copy, order, lying: lies(turned, p.x_mm, p.y_mm) });
      }
      this.looks.set(metal, new Look(new Ground(bench.rules, bench.metal.get(metal), others)));
    }
    return this.looks.get(metal);
  }

  look({ metal, mirror, turn_deg, x_mm, y_mm }) {
    if (!this.bench.metal.has(metal)) return [outsideFault(null)];
    const lying = lies(this.shape.turned(mirror, turn_deg), x_mm, y_mm);
    return this.lookOn(metal).faults(lying, this.order);
  }
}
