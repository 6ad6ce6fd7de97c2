// A piece is moved towards a wish and slides along what it touches. Two edges a distance apart
// stay apart while the piece keeps to a half-plane, so all near edges together bound a move within
// which nothing can be met: the piece goes to the point of it that is nearest to the wish, and the
// edges are looked at anew. No step is longer than what was looked at, so nothing is jumped over.

import { within } from "./distances.js";
import { CLEAN, lies } from "./ground.js";
import { HalfPlanes } from "./half_planes.js";
import { boxesNear } from "./shapes.js";

const HAIR_MM = 0.001;
const STILL_MM = 2e-4; // a shorter step is none
const MOST_STEPS = 12;
const LONGEST_STEP_MM = 3;
const SHORTEST_STEP_MM = 0.5;

const RINGS_MM = [0.6, 1.5, 3, 5, 8, 12, 18];
const WAYS = 16;
const TRIED = 2; // places of one ring from which the way back is tried

export class Slide {
  constructor(look) {
    this.ground = look.ground;
    this.look = look;
    this.planes = new HalfPlanes();
  }

  // Where a turned piece comes to that slides from [x, y] towards the wish [x, y].
  along(turned, from, wish, limits = this.ground.limits) {
    const { planes } = this;
    let [x, y] = from;
    const far = Math.hypot(wish[0] - x, wish[1] - y);
    const longest = Math.min(LONGEST_STEP_MM, Math.max(SHORTEST_STEP_MM, far / 3));
    for (let step = 0; step < MOST_STEPS; step += 1) {
      this.bound(lies(turned, x, y), longest, limits);
      const to = planes.nearestTo(wish[0] - x, wish[1] - y);
      if (!to) break;
      const size = Math.hypot(to[0], to[1]);
      const share = size > longest ? longest / size : 1;
      x += to[0] * share;
      y += to[1] * share;
      if (size < STILL_MM) break;
    }
    return [x, y];
  }

  // The half-planes of all edges that a step of `longest` can come to.
  bound(lying, longest, limits) {
    const { ground, look, planes } = this;
    const { pairs, nearest } = look;
    planes.clear();
    ground.near(lying, ground.widest + longest + HAIR_MM, pairs, nearest);
    for (let k = 0; k < pairs.count; k += 1) {
      const other = pairs.other[k];
      const limit = limits[other];
      if (limit < 0 || pairs.apart[k] > limit + longest + HAIR_MM) continue;
      this.plane(k, other, limit);
    }
  }

  plane(k, other, limit) {
    const { pairs } = this.look;
    const apart = pairs.apart[k];
    if (apart > STILL_MM) {
      const nx = (pairs.px[k] - pairs.qx[k]) / apart;
      const ny = (pairs.py[k] - pairs.qy[k]) / apart;
      this.planes.add(nx, ny, limit - apart);
      return;
    }
    // what touches is told apart by the edge itself: metal lies left of its edges, right of pieces
    const { edges, owner } = this.ground;
    const f = 4 * other;
    const dx = edges[f + 2] - edges[f];
    const dy = edges[f + 3] - edges[f + 1];
    const length = Math.hypot(dx, dy) * (owner[other] >= 0 ? 1 : -1);
    this.planes.add(dy / length, -dx / length, limit - apart);
  }

  // Limits under which what lies nearer at a good place than the gap (it has a line there) may
  // stay as near: another piece with all its edges, clean metal along one straight run.
  limitsAt(turned, [x, y]) {
    const { ground, look } = this;
    const { pairs } = look;
    ground.near(lies(turned, x, y), ground.widest, pairs, look.nearest);
    let found = null;
    for (let k = 0; k < pairs.count; k += 1) {
      const other = pairs.other[k];
      const apart = pairs.apart[k];
      if (ground.limits[other] < 0 || apart > ground.limits[other] - 2 * HAIR_MM) continue;
      found ??= ground.limits.slice();
      for (const edge of this.together(other)) found[edge] = Math.min(found[edge], apart);
    }
    return found;
  }

  *together(other) {
    const { ground } = this;
    const owner = ground.owner[other];
    const run = ground.runOf[other];
    if (owner === CLEAN && run < 0) yield other;
    else {
      const [begin, end] = owner >= 0 ? ground.others[owner].lying.rows : ground.cleanRows;
      for (let edge = begin / 4; edge < end / 4; edge += 1) {
        if (owner >= 0 || ground.runOf[edge] === run) yield edge;
      }
    }
  }

  // Whether a turned piece keeps the gap from everything, wherever it lies.
  isClear(turned, x, y) {
    const { ground } = this;
    const { edges, grid, limits } = ground;
    const { nearest } = this.look;
    const [x0, y0, x1, y1] = turned.box;
    const box = [x0 + x, y0 + y, x1 + x, y1 + y];
    const metal = ground.box;
    if (box[0] < metal[0] || box[1] < metal[1] || box[2] > metal[2] || box[3] > metal[3]) return false;
    const own = turned.edges;
    const reach = ground.widest;
    const rows = own.length / 4;
    const stride = rows > 24 ? 9 : 1; // here and there first: what is not clear is found sooner
    for (let first = 0; first < stride; first += 1) {
      for (let e = 4 * first; e < own.length; e += 4 * stride) {
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
          const f = 4 * grid.found[m];
          const limit = limits[grid.found[m]];
          if (limit < 0) continue;
          const [cx, cy, dx, dy] = [edges[f], edges[f + 1], edges[f + 2], edges[f + 3]];
          if (nearest.between(ax, ay, bx, by, cx, cy, dx, dy) < limit * limit) return false;
        }
      }
    }
    return this.isApart(turned, x, y, box);
  }

  // Nothing meets: then one point tells whether one lies within the other.
  isApart(turned, x, y, box) {
    const { ground } = this;
    const own = turned.edges;
    const [ax, ay] = [own[0] + x, own[1] + y];
    const part = ground.parts.find(({ edges }) => within(edges, ax, ay));
    if (!part || part.holes.some(([hx, hy]) => within(own, hx - x, hy - y))) return false;
    return ground.others.every(({ lying: { box: its, rows } }) => {
      if (!boxesNear(box, its, 0)) return true;
      const edges = ground.edges.subarray(rows[0], rows[1]);
      return !within(edges, ax, ay) && !within(own, edges[0] - x, edges[1] - y);
    });
  }

  // The nearest places round a wish that are clear, each slid back towards it; none is farther
  // than `most`.
  *around(turned, wish, most) {
    for (const [number, radius] of RINGS_MM.entries()) {
      if (radius >= most) return;
      let tried = 0;
      for (let way = 0; way < WAYS && tried < TRIED; way += 1) {
        const angle = (2 * Math.PI * (order(way) + (number % 2) / 2)) / WAYS;
        const x = wish[0] + radius * Math.cos(angle);
        const y = wish[1] + radius * Math.sin(angle);
        if (!this.isClear(turned, x, y)) continue;
        tried += 1;
        yield this.along(turned, [x, y], wish);
      }
      if (tried) return;
    }
  }
}

// Opposite ways first, so that few tries look everywhere.
const order = (way) => (way * 7) % WAYS;

