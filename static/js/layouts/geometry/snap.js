// A piece near a line that it could have is drawn onto it; near anything else, to exactly the gap.
// What is no good place is not taken.

import { alignments, commonStretch, toMeetEnds } from "./aligning.js";
import { lies } from "./ground.js";
import { moved, turnedAbout } from "./placing.js";

const LINES_TRIED = 3;
const MOST_LOOKS = 9;
const NOT_PARALLEL = 0.3; // sine of the least angle between two lines that make a corner
const TOWARDS = 0.5; // cosine of the greatest angle between a way and what it leads up to
const STOPPED_MM = 1e-3;

export class Snap {
  constructor(look, slide, shape, isGood) {
    this.look = look;
    this.slide = slide;
    this.shape = shape;
    this.isGood = isGood; // of a placement
  }

  lying({ mirror, turn_deg, x_mm, y_mm }) {
    return lies(this.shape.turned(mirror, turn_deg), x_mm, y_mm);
  }

  middle({ mirror, turn_deg, x_mm, y_mm }) {
    const [x, y] = this.shape.turned(mirror, turn_deg).middle;
    return [x + x_mm, y + y_mm];
  }

  // { place, snaps } on a free edge or a shared line, or both; null where none is within reach.
  ontoLines(place, { reach, mayTurn }) {
    const { ground } = this.look;
    const asked = { reach, mayTurn };
    const found = alignments(ground, this.lying(place), this.middle(place), asked);
    this.looksLeft = MOST_LOOKS;
    for (const one of found.slice(0, LINES_TRIED)) {
      const taken = this.onto(place, one, reach);
      if (taken) return taken;
    }
    return null;
  }

  // Onto one line, and where it can be onto a second, to where ends meet or up to a neighbour.
  onto(place, one, reach) {
    const turned = turnedAbout(this.shape, place, one.turn);
    const asked = { reach, mayTurn: false };
    const second = alignments(this.look.ground, this.lying(turned), this.middle(turned), asked)
      .filter(({ nx, ny }) => Math.abs(nx * one.ny - ny * one.nx) > NOT_PARALLEL)
      .slice(0, 2);
    for (const other of second) {
      const at = moved(turned, ...bothMoves(one, other));
      if (this.mayRest(at)) return { place: at, snaps: this.told(at, [one, other], "corner") };
    }
    const alone = moved(turned, one.move * one.nx, one.move * one.ny);
    const further = [];
    if (one.kind === "shared") {
      const ends = toMeetEnds(this.lying(alone).runs, one.run, one.line);
      if (Math.abs(ends.move) <= reach) further.push(() => [moved(alone, ends.move * ends.nx, ends.move * ends.ny), []]);
    }
    further.push(() => this.upTo(alone, [-one.ny, one.nx], reach) ?? [alone, []]);
    for (const make of further) {
      const [at, gaps] = make();
      if (this.mayRest(at)) return { place: at, snaps: [...this.told(at, [one]), ...gaps] };
    }
    return this.mayRest(alone) ? { place: alone, snaps: this.told(alone, [one]) } : null;
  }

  mayRest(place) {
    this.looksLeft -= 1;
    return this.looksLeft >= 0 && this.isGood(place);
  }

  told(place, lines, kind = null) {
    const { runs } = this.lying(place);
    return lines.map((one) => ({
      kind: kind ?? one.kind,
      line: commonStretch(runs, one.run, one.line),
    }));
  }

  // A good place drawn to exactly the gap from what is nearest, and then from what is beside it.
  toTheGap(place, reach) {
    const first = this.nearest(place, reach, null);
    if (!first) return null;
    this.looksLeft = MOST_LOOKS;
    const [at, gaps] = this.drawn(place, [-first.nx, -first.ny], reach) ?? [place, []];
    const beside = this.upTo(at, [-first.ny, first.nx], reach);
    if (beside && this.mayRest(beside[0])) {
      return { place: beside[0], snaps: [...gaps, ...beside[1]] };
    }
    return gaps.length && this.mayRest(at) ? { place: at, snaps: gaps } : null;
  }

  // Along a line, either way, up to whatever is nearest there.
  upTo(place, [tx, ty], reach) {
    const next = this.nearest(place, reach, [tx, ty]);
    if (!next) return null;
    const sign = next.nx * tx + next.ny * ty > 0 ? -1 : 1;
    return this.drawn(place, [sign * tx, sign * ty], reach);
  }

  // [place, snaps] where a piece is stopped that goes that way; null where nothing stops it.
  drawn(place, [dx, dy], reach) {
    const { slide } = this;
    const turned = this.shape.turned(place.mirror, place.turn_deg);
    const from = [place.x_mm, place.y_mm];
    const wish = [from[0] + reach * dx, from[1] + reach * dy];
    const limits = slide.limitsAt(turned, from) ?? undefined;
    const [x, y] = slide.along(turned, from, wish, limits);
    const went = (x - from[0]) * dx + (y - from[1]) * dy;
    const aside = Math.abs((x - from[0]) * dy - (y - from[1]) * dx);
    if (went > reach - STOPPED_MM || went < STOPPED_MM || aside > reach) return null;
    const at = moved(place, x - from[0], y - from[1]);
    return [at, this.contact(at, [dx, dy])];
  }

  // The nearest of what is not met yet, in any direction or in that of a way: its normal.
  nearest(place, reach, way) {
    const { pairs } = this.near(place, reach);
    const { limits } = this.look.ground;
    let best = reach;
    let found = null;
    for (let k = 0; k < pairs.count; k += 1) {
      const limit = limits[pairs.other[k]];
      const apart = pairs.apart[k];
      if (limit < 0 || apart <= limit + STOPPED_MM) continue;
      const nx = (pairs.px[k] - pairs.qx[k]) / apart;
      const ny = (pairs.py[k] - pairs.qy[k]) / apart;
      const share = way ? Math.abs(nx * way[0] + ny * way[1]) : 1;
      if (share < TOWARDS || (apart - limit) / share >= best) continue;
      best = (apart - limit) / share;
      found = { nx, ny };
    }
    return found;
  }

  // What a piece that came that way has come up to, as the line between the two nearest points.
  contact(place, [dx, dy]) {
    const { pairs } = this.near(place, STOPPED_MM);
    const { limits } = this.look.ground;
    for (let k = 0; k < pairs.count; k += 1) {
      const [px, py, qx, qy] = [pairs.px[k], pairs.py[k], pairs.qx[k], pairs.qy[k]];
      const limit = limits[pairs.other[k]];
      if (limit < 0 || Math.abs(pairs.apart[k] - limit) > STOPPED_MM) continue;
      if (((qx - px) * dx + (qy - py) * dy) / pairs.apart[k] < TOWARDS / 2) continue;
      return [{ kind: "gap", line: [px, py, qx, qy] }];
    }
    return [];
  }

  near(place, reach) {
    const { ground, nearest, pairs } = this.look;
    ground.near(this.lying(place), ground.widest + reach, pairs, nearest);
    return this.look;
  }
}

// The shift that is two moves at once, each along its own normal.
function bothMoves(one, other) {
  const cross = one.nx * other.ny - one.ny * other.nx;
  return [
    (one.move * other.ny - other.move * one.ny) / cross,
    (other.move * one.nx - one.move * other.nx) / cross,
  ];
}
