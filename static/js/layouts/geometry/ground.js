// One stock piece and all that lies on it while one piece is held: its edges in a grid, and the
// free edges and shared lines that stay whatever the held piece does.

import { Grid } from "./grid.js";
import { freeLines, ON_EDGE_MM, sharedLines } from "./lines.js";
import { boxesNear, boxOf, edgesOf, shifted } from "./shapes.js";

// Whose an edge is where it is no piece's.
export const CLEAN = -1;
export const ROUGH = -2;
export const RIM = -3; // all edges of the metal, told apart by nothing: is a piece on it?

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
  // `others` are { piece, copy, order, lying }.
  constructor(rules, metal, others) {
    this.rules = rules;
    this.metal = metal;
    this.others = others;
    this.cleanRuns = Float64Array.from(metal.clean_runs.flat());
    this.gather();
    this.free = []; // the free edges of what stands
    this.lines = this.standingLines(); // and with them its shared lines
  }

  gather() {
    const { metal, rules } = this;
    const lists = [];
    const owners = [];
    let count = 0;
    const put = (rows, owner) => {
      lists.push(rows);
      owners.push([owner, rows.length / 4]);
      count += rows.length / 4;
      return [4 * (count - rows.length / 4), 4 * count];
    };
    for (const [number, { lying }] of this.others.entries()) {
      lying.rows = put(shifted(lying.turned.edges, lying.x, lying.y), number);
    }
    const clean = put(Float64Array.from(metal.clean.flat()), CLEAN);
    put(Float64Array.from(metal.rough.flat()), ROUGH);
    this.parts = metal.rings.map((rings) => {
      const { edges } = edgesOf(rings);
      return { edges, rows: put(edges, RIM), box: boxOf(edges), holes: holesOf(rings) };
    });
    this.edges = new Float64Array(4 * count);
    this.owner = new Int32Array(count);
    this.limits = new Float64Array(count); // how near a piece may rest without a line beside
    const rest = Math.max(rules.gap_mm, rules.kerf_mm) + CONTENT_MM;
    const limitOf = { [RIM]: -1, [ROUGH]: rules.edge_gap_mm + CONTENT_MM };
    let at = 0;
    for (const [k, [owner, rows]] of owners.entries()) {
      this.edges.set(lists[k], 4 * at);
      this.owner.fill(owner, at, at + rows);
      this.limits.fill(limitOf[owner] ?? rest, at, at + rows);
      at += rows;
    }
    this.widest = Math.max(rest, metal.rough.length ? limitOf[ROUGH] : 0);
    this.runOf = runsOfEdges(this.edges, clean, this.cleanRuns);
    this.cleanRows = clean;
    this.box = boxOf(this.parts.flatMap((part) => part.box));
    this.grid = new Grid(this.edges);
  }

  standingLines() {
    const { others, rules } = this;
    const found = [];
    for (const [number, { lying }] of others.entries()) {
      freeLines(lying, this.cleanRuns, rules, this.free);
      for (const next of others.slice(number + 1)) sharedLines(lying, next.lying, rules, found);
    }
    return [...this.free, ...found];
  }

  // The pairs of an edge of a lying piece and one of these within `reach` of each other, rims only
  // where they touch.
  near(lying, reach, pairs, nearest) {
    const own = lying.turned.edges;
    const { edges, grid, owner } = this;
    const { x, y } = lying;
    const most = reach * reach;
    pairs.clear();
    for (let e = 0; e < own.length; e += 4) {
      const ax = own[e] + x;
      const ay = own[e + 1] + y;
      const bx = own[e + 2] + x;
      const by = own[e + 3] + y;
      const count = grid.near(
        (ax < bx ? ax : bx) - reach,
        (ay < by ? ay : by) - reach,
        (ax > bx ? ax : bx) + reach,
        (ay > by ? ay : by) + reach,
      );
      for (let m = 0; m < count; m += 1) {
        const other = grid.found[m];
        const f = 4 * other;
        const square = nearest.between(
          ax, ay, bx, by, edges[f], edges[f + 1], edges[f + 2], edges[f + 3],
        );
        if (square > most) continue;
        if (owner[other] === RIM && square > TOUCHING_MM * TOUCHING_MM) continue;
        pairs.add(e >> 2, other, nearest);
      }
    }
    return pairs;
  }

  neighbours(box, reach) {
    return this.others.filter(({ lying }) => boxesNear(box, lying.box, reach));
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
