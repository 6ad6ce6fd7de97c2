// One stock piece and all that lies on it: edges in a grid, free edges and shared lines. Made once
// for a layout; `without` gives it as it is for a piece in the hand.

import { chained } from "./chains.js";
import { shiftedRow } from "./distances.js";
import { Grid } from "./grid.js";
import { freeLines, ON_EDGE_MM, sharedLines } from "./lines.js";
import { boxesNear, boxOf, edgesOf, shifted } from "./shapes.js";

// Whose an edge is where it is no piece's.
export const CLEAN = -1;
export const ROUGH = -2;
export const CUT = -4; // the lines along which the metal is parted
export const RIM = -3; // all edges of the metal, told apart by nothing: is a piece on it?

const NOBODY = -9;
const TOUCHING_MM = 0.002;
const CONTENT_MM = 0.001; // so much wider than asked for a piece rests, and nobody can doubt it

// A turned shape somewhere: its edges stay where they were turned to, the rest is moved along.
export function lies(turned, x, y) {
  const [x0, y0, x1, y1] = turned.box;
  return {
    turned,
    x,
    y,
    runs: shifted(turned.runs, x, y),
    shellRuns: turned.shellRuns,
    box: [x0 + x, y0 + y, x1 + x, y1 + y],
  };
}

export class Ground {
  // `others` are { piece, copy, order, lying, fixed }.
  constructor(rules, metal, others) {
    this.rules = rules;
    this.metal = metal;
    this.others = others;
    this.present = others;
    this.skip = NOBODY;
    this.cleanRuns = Float64Array.from(metal.clean_runs.flat());
    this.chordRow = new Float64Array(4);
    this.edgeRow = new Float64Array(4);
    this.gather();
    this.made = this.linesMade();
    this.free = []; // free edges alone
    this.lines = []; // with them the shared lines
  }

  // The same without one of the others, told by its number (negative for none): neither it nor the
  // lines that it makes are there.
  without(number) {
    const found = Object.assign(Object.create(Ground.prototype), this);
    found.skip = number < 0 ? NOBODY : number; // below nought are the metal's own edges
    found.present = this.others.filter((_, other) => other !== number);
    const stand = this.made.filter(({ one, other }) => one !== number && other !== number);
    found.free = stand.flatMap(({ other, lines }) => (other === NOBODY ? lines : []));
    found.lines = stand.flatMap(({ lines }) => lines);
    return found;
  }

  gather() {
    const { metal, rules } = this;
    const put = (rows, owner, chains = chained(rows, false)) => {
      const begin = this.count;
      lists.push({ rows, owner, chains, begin });
      this.count += rows.length / 4;
      return [4 * begin, 4 * this.count];
    };
    const lists = [];
    this.count = 0;
    for (const [number, other] of this.others.entries()) {
      const { lying } = other;
      other.number = number;
      const { edges, chains } = lying.turned;
      const chords = shifted(chains.chords, lying.x, lying.y);
      lying.rows = put(shifted(edges, lying.x, lying.y), number, { ...chains, chords });
    }
    this.cleanRows = put(Float64Array.from(metal.clean.flat()), CLEAN);
    put(Float64Array.from(metal.rough.flat()), ROUGH);
    put(Float64Array.from((metal.cuts ?? []).flat()), CUT);
    this.parts = metal.rings.map((rings) => {
      const { edges } = edgesOf(rings);
      return { edges, rows: put(edges, RIM), box: boxOf(edges), holes: holesOf(rings) };
    });
    this.join(lists);
    const rest = Math.max(rules.gap_mm, rules.kerf_mm) + CONTENT_MM;
    const rough = rules.edge_gap_mm + CONTENT_MM;
    const cut = (rules.cut_gap_mm ?? 0) + CONTENT_MM;
    // how near a piece may rest to each edge without a line beside it
    const limits = { [RIM]: -1, [ROUGH]: rough, [CUT]: cut };
    this.limits = Float64Array.from(this.owner, (owner) => limits[owner] ?? rest);
    this.widest = Math.max(rest, metal.rough.length ? rough : 0, metal.cuts?.length ? cut : 0);
    this.runOf = runsOfEdges(this.edges, this.cleanRows, this.cleanRuns);
    this.box = boxOf(this.parts.flatMap((part) => part.box));
  }

  // All edges, whose they are, and their chains in one grid.
  join(lists) {
    const chains = lists.reduce((sum, { chains: { slack } }) => sum + slack.length, 0);
    this.edges = new Float64Array(4 * this.count);
    this.owner = new Int32Array(this.count);
    this.chainOwner = new Int32Array(chains);
    this.begins = new Int32Array(chains + 1);
    this.chords = new Float64Array(4 * chains);
    this.slack = new Float64Array(chains);
    let at = 0;
    for (const { rows, owner, chains: each, begin } of lists) {
      this.edges.set(rows, 4 * begin);
      this.owner.fill(owner, begin, begin + rows.length / 4);
      for (let k = 0; k < each.slack.length; k += 1) this.begins[at + k] = begin + each.begins[k];
      this.chainOwner.fill(owner, at, at + each.slack.length);
      this.chords.set(each.chords, 4 * at);
      this.slack.set(each.slack, at);
      at += each.slack.length;
    }
    this.begins[at] = this.count;
    this.grid = new Grid(this.chords, this.slack);
  }

  // The free edges of each piece (`other` is nobody) and the shared lines of each two.
  linesMade() {
    const { others, rules } = this;
    const found = [];
    const put = (one, other, lines) => {
      if (lines.length) found.push({ one, other, lines });
    };
    for (const [one, { lying }] of others.entries()) {
      put(one, NOBODY, freeLines(lying, this.cleanRuns, rules));
      for (let other = one + 1; other < others.length; other += 1) {
        put(one, other, sharedLines(lying, others[other].lying, rules));
      }
    }
    return found;
  }

  // Visits the chains of a lying piece and those here that come within `reach` of each other, with
  // `nearest` set to where their chords are nearest. A visit that gives true is the last.
  meet(lying, reach, nearest, visit) {
    const { begins, chords, slack } = lying.turned.chains;
    const { chords: others, grid, slack: more } = this;
    const { x, y } = lying;
    for (let c = 0; c < slack.length; c += 1) {
      const row = shiftedRow(chords, 4 * c, x, y, this.chordRow);
      const far = reach + slack[c];
      const count = grid.near(row, far);
      for (let m = 0; m < count; m += 1) {
        const d = grid.found[m];
        if (this.chainOwner[d] === this.skip) continue;
        const most = far + more[d];
        if (nearest.between(row, 0, others, 4 * d) > most * most) continue;
        if (visit(c, d, slack[c] + more[d], begins[c], begins[c + 1])) return true;
      }
    }
    return false;
  }

  // The pairs of an edge of a lying piece and one of these within `reach` of each other, rims only
  // where they touch.
  near(lying, reach, pairs, nearest) {
    pairs.clear();
    this.meet(lying, reach, nearest, (_, d, slack, begin, end) => {
      const rim = this.owner[this.begins[d]] === RIM;
      this.edgesNear(lying, begin, end, d, rim ? TOUCHING_MM : reach, pairs, nearest);
    });
    return pairs;
  }

  // Those of the lying piece's edges from `begin` to before `end` and those of one chain here.
  edgesNear(lying, begin, end, d, reach, pairs, nearest) {
    const own = lying.turned.edges;
    const { chords, edges, begins } = this;
    const { x, y } = lying;
    const few = begins[d + 1] - begins[d] === 1;
    const wide = (reach + this.slack[d]) ** 2;
    const most = reach * reach;
    for (let e = begin; e < end; e += 1) {
      const row = shiftedRow(own, 4 * e, x, y, this.edgeRow);
      if (nearest.between(row, 0, chords, 4 * d) > wide) continue;
      if (few) {
        pairs.add(e, begins[d], nearest);
        continue;
      }
      for (let other = begins[d]; other < begins[d + 1]; other += 1) {
        if (nearest.between(row, 0, edges, 4 * other) <= most) pairs.add(e, other, nearest);
      }
    }
  }

  neighbours(box, reach) {
    return this.present.filter(({ lying }) => boxesNear(box, lying.box, reach));
  }
}

function holesOf(rings) {
  return rings.slice(1).map(([[x, y]]) => [x, y]);
}

// On which straight clean run each clean edge lies; −1 for none. What is flush with a run may
// slide along all of it.
function runsOfEdges(edges, [begin, end], runs) {
  const found = new Int32Array(edges.length / 4).fill(-1);
  for (let k = begin; k < end; k += 4) {
    for (let r = 0; r < runs.length && found[k / 4] < 0; r += 4) {
      if (onLine(edges, k, runs, r) && onLine(edges, k + 2, runs, r)) found[k / 4] = r / 4;
    }
  }
  return found;
}

function onLine(points, k, runs, r) {
  const dx = runs[r + 2] - runs[r];
  const dy = runs[r + 3] - runs[r + 1];
  const length = Math.hypot(dx, dy);
  const x = points[k] - runs[r];
  const y = points[k + 1] - runs[r + 1];
  const along = (x * dx + y * dy) / length;
  const across = Math.abs(x * dy - y * dx) / length;
  return across <= 2 * ON_EDGE_MM && along > -0.1 && along < length + 0.1;
}
