// The bench as the layout table sees it: stock pieces, what lies on them, and one piece in the
// hand. Nothing here touches the page; README.md beside this says what is promised.

import { Ground, lies } from "./ground.js";
import { Held } from "./held.js";
import { Shape } from "./shapes.js";

export class Bench {
  // `rules`, `metal` and `pieces` are those of the table's state.
  constructor(rules, metal, pieces) {
    this.rules = rules;
    this.metal = new Map(metal.map((one) => [one.id, one]));
    this.shapes = new Map(pieces.map((piece) => [piece.id, new Shape(piece)]));
    this.set([]);
  }

  // Where all lie, in the order of the state; `fixed` are its [piece, copy], which are judged neither
  // among themselves nor against the metal.
  set(placements, fixed = []) {
    this.placements = placements;
    this.fixed = new Set(fixed.map(([piece, copy]) => keyOf({ piece, copy })));
    this.looking = null;
    this.grounds = new Map();
  }

  // Along which stretches each stock piece is parted: by its id, [x0, y0, x1, y1] each.
  parted(cuts) {
    for (const [id, one] of this.metal) this.metal.set(id, { ...one, cuts: cuts.get(id) ?? [] });
    this.looking = null;
    this.grounds = new Map();
  }

  // A stock piece with all that lies on it, made when it is asked for first.
  ground(metal) {
    if (!this.grounds.has(metal)) {
      const others = [];
      for (const [order, p] of this.placements.entries()) {
        if (p.metal !== metal) continue;
        const turned = this.shapes.get(p.piece).turned(Boolean(p.mirror), p.turn_deg);
        const lying = lies(turned, p.x_mm, p.y_mm);
        others.push({ piece: p.piece, copy: p.copy, order, lying, fixed: this.isFixed(p) });
      }
      this.grounds.set(metal, new Ground(this.rules, this.metal.get(metal), others));
    }
    return this.grounds.get(metal);
  }

  isFixed(named) {
    return this.fixed.has(keyOf(named));
  }

  // A piece in the hand: everything but this one is in its way.
  hold(piece, copy) {
    return new Held(this, piece, copy);
  }

  // What is wrong with a piece at a place, of those that are there too; [] is good.
  look(placement) {
    const { piece, copy } = placement;
    if (this.looking?.piece !== piece || this.looking.copy !== copy) {
      this.looking = this.hold(piece, copy);
    }
    return this.looking.look(placement);
  }
}

const keyOf = ({ piece, copy }) => `${copy} ${piece}`;
