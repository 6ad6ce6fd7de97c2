// A piece is moved towards a wish and slides along what it touches. Two edges a distance apart
// stay apart while the piece keeps to a half-plane, so all near edges together bound a move within
// which nothing can be met: the piece goes to the point of it that is nearest to the wish, and the
// edges are looked at anew. No step is longer than what was looked at, so nothing is jumped over.

import { within } from "./distances.js";
import { CLEAN, lies } from "./ground.js";
import { HalfPlanes } from "./half_planes.js";
import { boxesNear } from "./shapes.js";

const HAIR_MM = 0.001;
const STILL_MM = 1e-3; // a shorter step is the last
const TOUCHING_MM = 1e-4;
const FINE_MM = 0.3; // nearer to their limit than this, chains are looked at edge by edge
const MOST_STEPS = 12;
const LONGEST_STEP_MM = 3;
const SHORTEST_STEP_MM = 0.3;

const RINGS_MM = [0.6, 1.5, 3, 5, 8, 12, 18];
const WAYS = 16;
const TRIED = 2; // places of one ring from which the way back is tried

export class Slide {
  constructor(look) {
    this.ground = look.ground;
    this.look = look;
    this.planes = new HalfPlanes();
    this.easedLimits = null; // made when first asked for
    this.eased = []; // the edges of which they are not those of the ground
  }

  // Where a turned piece comes to that slides from [x, y] towards the wish [x, y].
  along(turned, from, wish, limits = this.ground.limits) {
    const { planes } = this;
    let [x, y] = from;
    const far = Math.hypot(wish[0] - x, wish[1] - y);
    let longest = Math.min(LONGEST_STEP_MM, Math.max(SHORTEST_STEP_MM, far / 3));
    for (let step = 0; step < MOST_STEPS; step += 1) {
      this.bound(lies(turned, x, y), longest, limits);
      const to = planes.nearestTo(wish[0] - x, wish[1] - y);
      if (!to) break;
      const size = Math.hypot(to[0], to[1]);
      const share = size > longest ? longest / size : 1;
      x += to[0] * share;
      y += to[1] * share;
      if (size < STILL_MM) break;
      longest = Math.min(longest, Math.max(SHORTEST_STEP_MM, 2 * size)); // it comes to rest
    }
    return [x, y];
  }

  // The half-planes of all that a step of `longest` can come to. Chains that are not near yet are
  // taken whole, by how far they are at least.
  bound(lying, longest, limits) {
    const { ground, planes } = this;
    const { pairs, nearest } = this.look;
    planes.clear();
    pairs.clear();
    ground.meet(lying, ground.widest + longest, nearest, (_, d, slack, begin, end) => {
      const limit = limits[ground.begins[d]];
      const least = Math.sqrt(nearest.square) - slack;
      if (limit < 0 || least > limit + longest) return;
      if (slack > 0 && least < limit + FINE_MM) {
        ground.edgesNear(lying, begin, end, d, limit + longest, pairs, nearest);
      } else this.plane(nearest, ground.begins[d], limit, least);
    });
    for (let k = 0; k < pairs.count; k += 1) {
      this.plane(pairs.at(k, nearest), pairs.other[k], limits[pairs.other[k]], pairs.apart[k]);
    }
  }

  // What is `least` apart or more, seen from where it is nearest, may come as near as its limit.
  plane({ px, py, qx, qy, square }, other, limit, least) {
    const apart = Math.sqrt(square);
    if (apart > TOUCHING_MM) {
      this.planes.add((px - qx) / apart, (py - qy) / apart, limit - least);
      return;
    }
    // what touches is told apart by the edge itself: metal lies left of its edges, right of pieces
    const { edges, owner } = this.ground;
    const f = 4 * other;
    const dx = edges[f + 2] - edges[f];
    const dy = edges[f + 3] - edges[f + 1];
    const length = Math.hypot(dx, dy) * (owner[other] >= 0 ? 1 : -1);
    this.planes.add(dy / length, -dx / length, limit - least);
  }

  // Limits under which what lies nearer at a good place than the gap (it has a line there) may
  // stay as near: another piece with all its edges, clean metal along one straight run. Null where
  // there is no such thing. They hold until asked for again.
  limitsAt(turned, [x, y]) {
    const { ground, look } = this;
    const { pairs } = look;
    const { limits } = ground;
    this.easedLimits ??= limits.slice();
    for (const edge of this.eased) this.easedLimits[edge] = limits[edge];
    this.eased = [];
    ground.near(lies(turned, x, y), ground.widest, pairs, look.nearest);
    const nearest = new Map(); // by owner and run
    for (let k = 0; k < pairs.count; k += 1) {
      const other = pairs.other[k];
      const apart = pairs.apart[k];
      if (limits[other] < 0 || apart > limits[other] - 2 * HAIR_MM) continue;
      const key = this.togetherWith(other);
      if (!(nearest.get(key)?.apart <= apart)) nearest.set(key, { apart, other });
    }
    for (const { apart, other } of nearest.values()) this.ease(other, apart);
    return nearest.size ? this.easedLimits : null;
  }

  // A number for all edges that are eased with one: those of its piece, or of its run.
  togetherWith(edge) {
    const owner = this.ground.owner[edge];
    const run = this.ground.runOf[edge];
    if (owner >= 0) return owner;
    return owner === CLEAN && run >= 0 ? -1 - 2 * run : -2 - 2 * edge;
  }

  ease(other, apart) {
    const { ground } = this;
    const owner = ground.owner[other];
    const [begin, end] = owner >= 0 ? ground.others[owner].lying.rows : ground.cleanRows;
    const key = this.togetherWith(other);
    for (let edge = begin / 4; edge < end / 4; edge += 1) {
      if (this.togetherWith(edge) !== key) continue;
      this.easedLimits[edge] = apart;
      this.eased.push(edge);
    }
  }

  // Whether a turned piece keeps the gap from everything, wherever it lies.
  isClear(turned, x, y) {
    const { ground } = this;
    const { limits } = ground;
    const { nearest } = this.look;
    const [x0, y0, x1, y1] = turned.box;
    const box = [x0 + x, y0 + y, x1 + x, y1 + y];
    const metal = ground.box;
    if (box[0] < metal[0] || box[1] < metal[1] || box[2] > metal[2] || box[3] > metal[3]) return false;
    const lying = { turned, x, y };
    const { pairs } = this.look;
    const met = ground.meet(lying, ground.widest, nearest, (_, d, slack, begin, end) => {
      const limit = limits[ground.begins[d]];
      const apart = Math.sqrt(nearest.square);
      if (apart - slack >= limit) return false;
      if (apart + slack < limit) return true;
      pairs.clear();
      ground.edgesNear(lying, begin, end, d, limit - HAIR_MM, pairs, nearest);
      return pairs.count > 0;
    });
    if (met) return false;
    return this.isApart(turned, x, y, box);
  }

  // Nothing meets: then one point tells whether one lies within the other.
  isApart(turned, x, y, box) {
    const { ground } = this;
    const own = turned.edges;
    const [ax, ay] = [own[0] + x, own[1] + y];
    const part = ground.parts.find(({ edges }) => within(edges, ax, ay));
    if (!part || part.holes.some(([hx, hy]) => within(own, hx - x, hy - y))) return false;
    return ground.present.every(({ lying: { box: its, rows } }) => {
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

