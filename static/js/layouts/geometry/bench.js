// The bench as the layout table sees it: stock pieces, what lies on them, and one piece in the
// hand. Nothing here touches the page; README.md beside this says what is promised.

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

  // Where all lie, in the order of the state.
  set(placements) {
    this.placements = placements;
    this.looking = null;
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
