// What is wrong with a piece where it lies, measured: the rules of hands as the judge has them
// (studio/core/verifying/by_hand.py and faults.py), for one piece against all others.

import { Nearest, Pairs, shiftedRow, within } from "./distances.js";
import { CLEAN, CUT, ROUGH } from "./ground.js";
import { freeLines, sharedLines, TOLERANCE_MM, tooNarrow } from "./lines.js";
import { farthestOut, sticksOut } from "./on_metal.js";
import { boxesNear, shifted } from "./shapes.js";
import { outside } from "./zones.js";

const ZONE_GAPS = 2;

export class Look {
  constructor(ground) {
    this.ground = ground;
    this.pairs = new Pairs();
    this.nearest = new Nearest();
    this.row = new Float64Array(4);
  }

  // All faults of a lying piece, `order` its place among all; with `first` one is enough.
  faults(lying, order, first = false) {
    const { ground, pairs } = this;
    const { rules } = ground;
    this.lying = lying;
    this.apartReach = Math.max(rules.gap_mm, rules.shared_mm, rules.kerf_mm, TOLERANCE_MM);
    if (first && !boxesNear(lying.box, ground.box, 0)) return [outsideFault(null)];
    ground.near(lying, Math.max(this.apartReach, rules.edge_gap_mm, rules.cut_gap_mm ?? 0), pairs, this.nearest);
    this.lines = null;
    this.ownRests = new Map();
    this.otherRests = new Map();
    const found = [];
    const off = sticksOut(ground, lying, pairs);
    if (off) found.push(outsideFault(first ? null : farthestOut(ground, lying, off)));
    else this.againstEdges(found);
    if (first && found.length) return found;
    const nearestOf = this.nearestOfOthers();
    for (const other of ground.neighbours(lying.box, this.apartReach)) {
      const fault = this.againstPiece(other, nearestOf.get(other.number), order);
      if (!fault) continue;
      found.push(fault);
      if (first) break;
    }
    return found;
  }

  // The nearest pair of edges for each other piece, by its number.
  nearestOfOthers() {
    const { owner } = this.ground;
    const { pairs } = this;
    const found = new Map();
    for (let k = 0; k < pairs.count; k += 1) {
      const whose = owner[pairs.other[k]];
      if (whose < 0) continue;
      const best = found.get(whose);
      if (best === undefined || pairs.apart[k] < pairs.apart[best]) found.set(whose, k);
    }
    return found;
  }

  againstEdges(found) {
    const { ground, pairs } = this;
    const { gap_mm: gap, kerf_mm: kerf, edge_gap_mm: least } = ground.rules;
    const nearest = { [CLEAN]: -1, [ROUGH]: -1, [CUT]: -1 };
    for (let k = 0; k < pairs.count; k += 1) {
      const whose = ground.owner[pairs.other[k]];
      if (nearest[whose] === undefined) continue;
      const best = nearest[whose];
      if (best < 0 || pairs.apart[k] < pairs.apart[best]) nearest[whose] = k;
    }
    const rough = nearest[ROUGH];
    if (rough >= 0 && pairs.apart[rough] < least - TOLERANCE_MM) {
      found.push(this.pairFault("edge", null, rough, least));
    }
    const cut = nearest[CUT];
    if (cut >= 0 && pairs.apart[cut] < ground.rules.cut_gap_mm - TOLERANCE_MM) {
      found.push(this.pairFault("cut", null, cut, ground.rules.cut_gap_mm));
    }
    const clean = nearest[CLEAN];
    if (clean < 0 || pairs.apart[clean] >= gap - TOLERANCE_MM) return;
    const free = freeLines(this.lying, ground.cleanRuns, ground.rules, [...ground.free]);
    const fault =
      this.cleanFault(kerf, free, new Map()) ?? this.cleanFault(gap, this.zone(), this.ownRests);
    if (fault) found.push(fault);
  }

  // What lies outside the zone of `lines` and is nearer to a clean edge than wanted.
  cleanFault(wanted, lines, rests) {
    const { ground, pairs } = this;
    const less = wanted - TOLERANCE_MM;
    let found = null;
    for (let k = 0; k < pairs.count; k += 1) {
      if (ground.owner[pairs.other[k]] !== CLEAN || pairs.apart[k] >= less) continue;
      const rest = this.restOfOwn(pairs.own[k], lines, rests);
      found = this.nearer(rest, pairs.other[k], less, found);
    }
    return found && fault("edge", null, found, wanted);
  }

  againstPiece(other, nearest, order) {
    const { lying } = this;
    const { gap_mm: gap, kerf_mm: kerf, shared_mm: shared } = this.ground.rules;
    const inside = this.inside(other);
    if (inside) return fault("piece", other, { apart: 0, at: inside, to: inside }, kerf);
    if (nearest === undefined || this.pairs.apart[nearest] > this.apartReach) return null;
    if (this.pairs.apart[nearest] < kerf - TOLERANCE_MM) {
      return this.pairFault("piece", other, nearest, kerf);
    }
    const [one, two] = order < other.order ? [lying, other.lying] : [other.lying, lying];
    const narrow = tooNarrow(one, two, this.ground.rules);
    if (narrow.length) return this.lineFault(other, narrow, one === lying, shared);
    if (gap <= kerf || this.pairs.apart[nearest] >= gap - TOLERANCE_MM) return null;
    return this.gapFault(other, gap);
  }

  gapFault(other, gap) {
    const { ground, pairs } = this;
    const less = gap - TOLERANCE_MM;
    const lines = this.zone();
    let found = null;
    for (let k = 0; k < pairs.count; k += 1) {
      if (ground.owner[pairs.other[k]] !== other.number || pairs.apart[k] >= less) continue;
      const own = this.restOfOwn(pairs.own[k], lines, this.ownRests);
      found = this.nearer(own, pairs.other[k], less, found);
      const its = this.restOfOther(pairs.other[k], lines);
      found = this.nearerOther(its, pairs.own[k], less, found);
    }
    return found && fault("piece", other, found, gap);
  }

  // Where runs face each other too near: how far the first one's stretches are from the second.
  lineFault(other, stretches, isOwn, limit) {
    const [begin, end] = other.lying.rows;
    const { x, y, turned } = this.lying;
    const rows = isOwn ? this.ground.edges.subarray(begin, end) : shifted(turned.edges, x, y);
    let found = null;
    for (let s = 0; s < stretches.length; s += 4) {
      for (let k = 0; k < rows.length; k += 4) {
        this.nearest.between(stretches, s, rows, k);
        found = better(this.nearest, Infinity, found, !isOwn);
      }
    }
    return fault("line", other, found, limit);
  }

  // A point of one piece within the other, where no edges need to meet.
  inside({ lying: { box, rows } }) {
    const { box: own, turned, x, y } = this.lying;
    if (!boxesNear(own, box, 0)) return null;
    const edges = this.ground.edges.subarray(rows[0], rows[1]);
    const [ax, ay] = [turned.edges[0] + x, turned.edges[1] + y];
    if (within(edges, ax, ay)) return [ax, ay];
    return within(turned.edges, edges[0] - x, edges[1] - y) ? [edges[0], edges[1]] : null;
  }

  // All lines that may excuse what is near: those that stand and those with the held piece.
  zone() {
    if (this.lines) return this.lines;
    const { ground, lying } = this;
    const { rules } = ground;
    const reach = 2 * this.reach + rules.gap_mm;
    const lines = near(ground.lines, lying.box, reach);
    freeLines(lying, ground.cleanRuns, rules, lines);
    for (const other of ground.present) sharedLines(lying, other.lying, rules, lines);
    this.lines = lines;
    return lines;
  }

  get reach() {
    return ZONE_GAPS * this.ground.rules.gap_mm + TOLERANCE_MM;
  }

  restOfOwn(edge, lines, rests) {
    const { turned, x, y } = this.lying;
    return this.rest(turned.edges, edge, x, y, lines, rests);
  }

  restOfOther(edge, lines) {
    return this.rest(this.ground.edges, edge, 0, 0, lines, this.otherRests);
  }

  rest(rows, edge, dx, dy, lines, rests) {
    let found = rests.get(edge);
    if (!found) {
      const k = 4 * edge;
      const [x0, y0, x1, y1] = [rows[k] + dx, rows[k + 1] + dy, rows[k + 2] + dx, rows[k + 3] + dy];
      found = outside(x0, y0, x1, y1, lines, this.reach);
      rests.set(edge, found);
    }
    return found;
  }

  nearer(rest, other, less, found) {
    return this.against(rest, this.ground.edges, 4 * other, less, found, false);
  }

  nearerOther(rest, own, less, found) {
    const { turned, x, y } = this.lying;
    const row = shiftedRow(turned.edges, 4 * own, x, y, this.row);
    return this.against(rest, row, 0, less, found, true);
  }

  against(rest, rows, k, less, found, swap) {
    for (let r = 0; r < rest.length; r += 4) {
      this.nearest.between(rest, r, rows, k);
      found = better(this.nearest, less, found, swap);
    }
    return found;
  }

  pairFault(kind, other, k, limit) {
    const { apart, px, py, qx, qy } = this.pairs;
    const found = { apart: apart[k], at: [px[k], py[k]], to: [qx[k], qy[k]] };
    return fault(kind, other, found, limit);
  }
}

function better(nearest, less, found, swap) {
  const apart = Math.sqrt(nearest.square);
  if (apart >= less || (found && apart >= found.apart)) return found;
  const at = [nearest.px, nearest.py];
  const to = [nearest.qx, nearest.qy];
  return swap ? { apart, at: to, to: at } : { apart, at, to };
}

function fault(kind, other, { apart, at, to }, limit) {
  const piece = other ? other.piece : null;
  return { kind, piece, copy: other ? other.copy : null, at, to, value: apart, limit };
}

export function outsideFault(found) {
  const { at, to } = found ?? { at: null, to: null };
  return { kind: "outside", piece: null, copy: null, at, to, value: null, limit: null };
}

// A copy of those lines whose boxes come within reach of a box.
function near(lines, [x0, y0, x1, y1], reach) {
  const found = [];
  for (let k = 0; k < lines.length; k += 4) {
    const [ax, ay, bx, by] = [lines[k], lines[k + 1], lines[k + 2], lines[k + 3]];
    if (Math.min(ax, bx) > x1 + reach || Math.max(ax, bx) < x0 - reach) continue;
    if (Math.min(ay, by) > y1 + reach || Math.max(ay, by) < y0 - reach) continue;
    found.push(ax, ay, bx, by);
  }
  return found;
}
