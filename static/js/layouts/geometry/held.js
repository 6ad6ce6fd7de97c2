// One piece in the hand, all others in its way.

import { lies } from "./ground.js";
import { Leaning } from "./leaning.js";
import { Look, outsideFault } from "./look.js";
import { turnedAbout } from "./placing.js";
import { Slide } from "./slide.js";
import { Snap } from "./snap.js";

const NEAR_MM = 0.6; // so near the wish nobody looks for a nearer place
const FARTHEST_MM = 20;
const REST_MM = 0.001;

export class Held {
  constructor(bench, piece, copy) {
    this.bench = bench;
    this.piece = piece;
    this.copy = copy;
    this.shape = bench.shapes.get(piece);
    const at = bench.placements.findIndex((p) => p.piece === piece && p.copy === copy);
    this.order = at < 0 ? bench.placements.length : at;
    this.isFixed = bench.isFixed({ piece, copy });
    this.tools = new Map();
    this.good = null; // where it lay last without a fault
    this.from = at < 0 ? null : placeOf(bench.placements[at]);
    if (this.from && this.isGood(this.from)) this.good = this.from;
  }

  // What judges, slides and snaps on one stock piece; made when the piece first comes there.
  on(metal) {
    if (!this.tools.has(metal)) {
      const ground = this.bench.ground(metal);
      const own = ground.others.findIndex(({ order }) => order === this.order);
      const look = new Look(ground.without(own));
      const slide = new Slide(look);
      const snap = new Snap(look, slide, this.shape, (place) => this.isGood(place));
      this.tools.set(metal, { look, slide, snap });
    }
    return this.tools.get(metal);
  }

  // What is wrong with it at a place, and with neighbours that it leaves there; [] is good.
  look(place) {
    const found = this.faults(place, false);
    const told = this.isFixed ? found.filter((one) => one.piece && !this.bench.isFixed(one)) : found;
    return [...told, ...this.left(place)];
  }

  // What is wrong with neighbours of the place that it was taken from.
  left(place) {
    const { from } = this;
    if (!from || !this.bench.metal.has(from.metal)) return [];
    this.leaning ??= this.leaningOn(from);
    return this.leaning.faults(place.metal === from.metal ? this.lying(place) : null);
  }

  leaningOn(from) {
    const { look } = this.on(from.metal);
    return new Leaning(look.ground, this.lying(from), look.reach);
  }

  lying({ mirror, turn_deg, x_mm, y_mm }) {
    return lies(this.shape.turned(mirror, turn_deg), x_mm, y_mm);
  }

  isGood(place) {
    return !this.faults(place, true).length;
  }

  faults(place, first) {
    if (!this.bench.metal.has(place.metal)) return [outsideFault(null)];
    return this.on(place.metal).look.faults(this.lying(place), this.order, first);
  }

  // The same place, the piece turned by so many degrees (anticlockwise) about its own middle.
  turned(place, byDeg) {
    return turnedAbout(this.shape, place, byDeg);
  }

  // Where the piece comes to when the hand wishes it there, and what is wrong with that.
  towards(wish, { slide = true, snap = true, reach_mm: reach = 0 } = {}) {
    const place = placeOf(wish);
    if (!this.bench.metal.has(place.metal)) return this.told(place);
    const good = (slide || snap) && this.isGood(place);
    const caught = snap && this.caught(place, reach, good);
    if (caught) return this.rested(caught.place, caught.snaps);
    if (good) return this.rested(place);
    const slid = slide && this.slid(place);
    if (!slid) return this.told(place);
    const then = snap && (this.pushed(slid, place, reach) ?? this.caught(slid, reach, true));
    return then ? this.rested(then.place, then.snaps) : this.rested(slid);
  }

  // What is pushed against something that it keeps the gap from is meant to lie there: it comes
  // onto the line even where the gap is wider than the reach.
  pushed(slid, wish, reach) {
    const { gap_mm: gap } = this.bench.rules;
    if (!(reach > 0) || reach > gap) return null;
    const found = this.caught(slid, gap + 2 * REST_MM, false);
    return found && apart(found.place, wish) < apart(slid, wish) ? found : null;
  }

  caught(place, reach, good) {
    if (!(reach > 0)) return null;
    const { snap } = this.on(place.metal);
    const found = snap.ontoLines(place, { reach, mayTurn: this.mayTurn(place.metal) });
    return found ?? (good ? snap.toTheGap(place, reach) : null);
  }

  mayTurn(metal) {
    const { turns_deg: turns, grain_deg: grain } = this.shape.piece;
    const alongGrain = (grain ?? null) !== null && (this.bench.metal.get(metal).grain_deg ?? null) !== null;
    return (turns ?? null) === null && !alongGrain;
  }

  // The good place nearest to a wish that is none; null where there is none to be found.
  slid(wish) {
    const { slide } = this.on(wish.metal);
    const turned = this.shape.turned(wish.mirror, wish.turn_deg);
    const at = [wish.x_mm, wish.y_mm];
    const start = this.startFor(wish);
    const still = start && this.isGood(start) ? start : null;
    let best = still;
    const consider = ([x_mm, y_mm]) => {
      const place = { ...wish, x_mm, y_mm };
      if (best && apart(place, wish) >= apart(best, wish)) return false;
      if (!this.isGood(place)) return false;
      best = place;
      return true;
    };
    if (start) {
      const from = [start.x_mm, start.y_mm];
      const limits = still && slide.limitsAt(turned, from);
      const kept = limits && consider(slide.along(turned, from, at, limits));
      if (!kept) consider(slide.along(turned, from, at));
    }
    const most = best ? Math.min(apart(best, wish), FARTHEST_MM) : FARTHEST_MM;
    if (most > NEAR_MM) for (const found of slide.around(turned, at, most)) consider(found);
    return best;
  }

  // From where a piece slides to a wish: where it lay well, turned as it is wished.
  startFor(wish) {
    const { good } = this;
    if (!good || good.metal !== wish.metal || good.mirror !== wish.mirror) return null;
    if (good.turn_deg === wish.turn_deg) return good;
    const turned = turnedAbout(this.shape, good, wish.turn_deg - good.turn_deg);
    return { ...turned, turn_deg: wish.turn_deg };
  }

  rested(place, snaps = []) {
    this.good = place;
    return { ...place, snaps, faults: this.left(place) };
  }

  told(place) {
    const faults = this.faults(place, false);
    if (!faults.length) this.good = place;
    return { ...place, snaps: [], faults: [...faults, ...this.left(place)] };
  }
}

const placeOf = ({ metal, mirror, turn_deg, x_mm, y_mm }) => ({
  metal,
  mirror: Boolean(mirror),
  turn_deg,
  x_mm,
  y_mm,
});

const apart = (one, other) => Math.hypot(one.x_mm - other.x_mm, one.y_mm - other.y_mm);
