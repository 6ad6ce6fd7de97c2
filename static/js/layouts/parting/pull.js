// A cut in hand: one that is there, parallel, or a new one through the part under the hand.

import { laidAt } from "../shapes.js";
import { isIn, Line } from "./lines.js";

const CATCH_PX = 8;
const PLACES = 2; // of the millimetres that a hand means

export class CutPull {
  // `at` is where the hand took it, on its metal.
  constructor(desk, cut, at) {
    Object.assign(this, { desk, cut, at });
    this.metal = cut.metal;
    this.part = cut.part;
    this.line = Line.between(cut.line);
    this.now = this.line;
    this.shift = 0;
    this.wishes = this.catches();
  }

  // Where it catches: as near to each piece of its part as a cut may be.
  catches() {
    const { items, work, state } = this.desk;
    const far = state.rules.cut_gap_mm;
    const found = [];
    for (const [key, place] of work.laid) {
      const item = items.get(key);
      if (!item || place.metal !== this.metal || !isIn(this.part, laidAt(place, item.middle))) continue;
      const offs = item.piece.rings[0].map((point) => this.line.off(laidAt(place, point)));
      found.push({ key, low: Math.min(...offs) - far, high: Math.max(...offs) + far });
    }
    return found;
  }

  to(at, loose) {
    let shift = this.line.off(at) - this.line.off(this.at);
    const near = CATCH_PX * this.desk.px();
    if (!loose) {
      const best = this.wishes.flatMap(({ low, high }) => [low, high]).sort((a, b) => Math.abs(a - shift) - Math.abs(b - shift))[0];
      if (best !== undefined && Math.abs(best - shift) < near) shift = best;
      else shift = Number(shift.toFixed(PLACES));
    }
    const moved = this.line.shifted(shift);
    if (!moved.within(this.part).length) return; // no further than its part
    this.shift = shift;
    this.now = moved;
  }

  // The pieces that it would be too near.
  get wrong() {
    const slack = 0.002;
    return this.wishes.filter(({ low, high }) => this.shift > low + slack && this.shift < high - slack).map(({ key }) => key);
  }

  get runs() {
    return this.now.within(this.part);
  }

  get ends() {
    const runs = this.runs;
    return runs.length ? [runs[0][0], runs[0][1], runs.at(-1)[2], runs.at(-1)[3]] : null;
  }

  // How far from the edge of its part on the first side that it is told by; millimetres.
  get far() {
    const [right, left] = this.now.spread(this.part);
    return this.cut.sides[0]?.key === "r" ? -right : left;
  }
}
