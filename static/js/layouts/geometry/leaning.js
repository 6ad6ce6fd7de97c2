// Neighbours that lie well only because of a line that one of them has with the held piece: where
// that is taken away they are too near each other, or too near an edge, and nothing of it is seen
// from the held piece.

import { Nearest, shiftedRow } from "./distances.js";
import { CLEAN } from "./ground.js";
import { freeLines, sharedLines, TOLERANCE_MM } from "./lines.js";
import { boxesNear, boxOf } from "./shapes.js";
import { outside } from "./zones.js";

export class Leaning {
  // `reach` is that of the zone, `lying` the held piece where it is taken from.
  constructor(ground, lying, reach) {
    this.ground = ground;
    this.reach = reach;
    this.nearest = new Nearest();
    this.row = new Float64Array(4);
    const own = this.linesOf(lying);
    this.leaning = own.all.length ? this.excusedBy(own) : [];
  }

  // The lines that the held piece makes, and those that stand.
  linesOf(lying) {
    const { ground } = this;
    if (!lying) return { free: [], all: [] };
    const free = freeLines(lying, ground.cleanRuns, ground.rules);
    const all = [...free];
    for (const other of ground.present) sharedLines(lying, other.lying, ground.rules, all);
    return { free, all };
  }

  excusedBy(own) {
    const { ground, reach } = this;
    const box = boxOf(own.all);
    const found = [];
    for (const { lying } of ground.neighbours(box, reach)) {
      for (let f = lying.rows[0]; f < lying.rows[1]; f += 4) {
        const [x0, y0, x1, y1] = ground.edges.subarray(f, f + 4);
        const edge = [Math.min(x0, x1), Math.min(y0, y1), Math.max(x0, x1), Math.max(y0, y1)];
        if (boxesNear(edge, box, reach)) this.excused(f, own, found);
      }
    }
    return found;
  }

  // What an edge is near to that only the lines of the held piece excuse.
  excused(f, own, found) {
    const { ground } = this;
    const { gap_mm: gap, kerf_mm: kerf } = ground.rules;
    const owner = ground.owner[f / 4];
    const row = shiftedRow(ground.edges, f, 0, 0, this.row).slice();
    const count = ground.grid.near(row, gap);
    for (const chain of ground.grid.found.slice(0, count)) {
      for (let g = ground.begins[chain]; g < ground.begins[chain + 1]; g += 1) {
        const other = ground.owner[g];
        if (other === owner || other === ground.skip || (other < 0 && other !== CLEAN)) continue;
        if (ground.others[owner].fixed && (other < 0 || ground.others[other].fixed)) continue;
        const asked = [{ limit: gap, free: false }];
        if (other === CLEAN) asked.push({ limit: kerf, free: true });
        for (const { limit, free } of asked) {
          const one = { f, g: 4 * g, limit, free };
          if (this.tooNear(one, null) && !this.tooNear(one, own)) found.push(one);
        }
      }
    }
  }

  // The nearest points of two that are too near outside the zone of what stands and of `own` lines.
  tooNear({ f, g, limit, free }, own) {
    const { edges, lines, free: standing } = this.ground;
    const zone = free ? [...standing, ...(own?.free ?? [])] : [...lines, ...(own?.all ?? [])];
    const rest = outside(edges[f], edges[f + 1], edges[f + 2], edges[f + 3], zone, this.reach);
    const { nearest } = this;
    let found = null;
    for (let r = 0; r < rest.length; r += 4) {
      const value = Math.sqrt(nearest.between(rest, r, edges, g));
      if (value >= Math.min(limit - TOLERANCE_MM, found?.value ?? Infinity)) continue;
      found = { at: [nearest.px, nearest.py], to: [nearest.qx, nearest.qy], value };
    }
    return found;
  }

  // One fault for each two of them, as of `Look`, with `of` for the first; `lying` is where the
  // held piece is now, null for elsewhere.
  faults(lying) {
    if (!this.leaning.length) return [];
    const { ground } = this;
    const own = this.linesOf(lying);
    const found = new Map();
    for (const one of this.leaning) {
      const near = this.tooNear(one, own);
      if (!near) continue;
      const [mine, its] = [ground.owner[one.f / 4], ground.owner[one.g / 4]];
      const key = its < 0 ? `${mine}` : `${Math.min(mine, its)} ${Math.max(mine, its)}`;
      if (found.get(key)?.value <= near.value) continue;
      const { piece, copy } = ground.others[mine];
      const other = its < 0 ? null : ground.others[its];
      found.set(key, {
        kind: other ? "piece" : "edge",
        of: { piece, copy },
        piece: other && other.piece,
        copy: other && other.copy,
        ...near,
        limit: one.limit,
      });
    }
    return [...found.values()];
  }
}
