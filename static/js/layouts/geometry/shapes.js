// Pieces as they are drawn, mirrored and turned: edges and straight runs as flat rows of
// x0, y0, x1, y1 in millimetres, the metal of the piece always on their left.

import { chained } from "./chains.js";

const KEPT_TURNS = 12;

// The edges of rings as rows, the shell first. Rings may come in either sense.
export function edgesOf(rings, mirror = false) {
  const rows = [];
  let shellRows = 0;
  rings.forEach((ring, number) => {
    const points = corners(ring, mirror);
    const wanted = number === 0 ? 1 : -1;
    if (Math.sign(doubledArea(points)) !== wanted) points.reverse();
    points.forEach(([x, y], k) => {
      const [x1, y1] = points[(k + 1) % points.length];
      rows.push(x, y, x1, y1);
    });
    if (number === 0) shellRows = rows.length / 4;
  });
  return { edges: Float64Array.from(rows), shellRows };
}

function corners(ring, mirror) {
  const points = ring.map(([x, y]) => [mirror ? -x : x, y]);
  return points.filter(([x, y], k) => {
    const [px, py] = points[(k + points.length - 1) % points.length];
    return x !== px || y !== py;
  });
}

function doubledArea(points) {
  const [ox, oy] = points[0];
  return points.reduce((sum, [x, y], k) => {
    const [x1, y1] = points[(k + 1) % points.length];
    return sum + (x - ox) * (y1 - oy) - (x1 - ox) * (y - oy);
  }, 0);
}

// The middle of the area of a piece, its windows left out of it.
function middleOf(edges) {
  const [ox, oy] = edges;
  let area = 0;
  let x = 0;
  let y = 0;
  for (let k = 0; k < edges.length; k += 4) {
    const ax = edges[k] - ox;
    const ay = edges[k + 1] - oy;
    const bx = edges[k + 2] - ox;
    const by = edges[k + 3] - oy;
    const cross = ax * by - bx * ay;
    area += cross;
    x += (ax + bx) * cross;
    y += (ay + by) * cross;
  }
  return area === 0 ? [ox, oy] : [ox + x / (3 * area), oy + y / (3 * area)];
}

// Which runs belong to the shell: only there can a free edge be.
function runsOfShell(runs, edges, shellRows) {
  return Array.from({ length: runs.length / 4 }, (_, run) => {
    const x = (runs[4 * run] + runs[4 * run + 2]) / 2;
    const y = (runs[4 * run + 1] + runs[4 * run + 3]) / 2;
    let nearest = Infinity;
    let row = 0;
    for (let k = 0; k < edges.length; k += 4) {
      const away = squareFrom(x, y, edges[k], edges[k + 1], edges[k + 2], edges[k + 3]);
      if (away < nearest) {
        nearest = away;
        row = k / 4;
      }
    }
    return row < shellRows;
  });
}

function squareFrom(x, y, ax, ay, bx, by) {
  const dx = bx - ax;
  const dy = by - ay;
  const along = ((x - ax) * dx + (y - ay) * dy) / (dx * dx + dy * dy || 1);
  const t = Math.min(1, Math.max(0, along));
  return (ax + t * dx - x) ** 2 + (ay + t * dy - y) ** 2;
}

// A piece of the state. `turned` is kept for the turns asked for last: while a piece is dragged
// its turn stays, and only the shift is new.
export class Shape {
  constructor(piece) {
    this.piece = piece;
    this.kept = new Map();
    this.drawn = [null, null];
  }

  asDrawn(mirror) {
    const which = mirror ? 1 : 0;
    if (!this.drawn[which]) {
      const { edges, shellRows } = edgesOf(this.piece.rings, mirror);
      const runs = Float64Array.from((mirror ? this.piece.mirrored_runs : this.piece.runs).flat());
      const shellRuns = runsOfShell(runs, edges, shellRows);
      const chains = chained(edges);
      this.drawn[which] = { edges, chains, runs, shellRuns, middle: middleOf(edges) };
    }
    return this.drawn[which];
  }

  // Mirrored first, then turned about the drawing's origin; not shifted.
  turned(mirror, turnDeg) {
    const key = `${mirror ? 1 : 0} ${turnDeg}`;
    const kept = this.kept.get(key);
    if (kept) return kept;
    const { edges, chains, runs, shellRuns, middle } = this.asDrawn(mirror);
    const [c, s] = cosineAndSine(turnDeg);
    const found = { edges: spun(edges, c, s), runs: spun(runs, c, s), shellRuns };
    found.chains = { ...chains, chords: spun(chains.chords, c, s) };
    found.box = boxOf(found.edges);
    found.middle = [c * middle[0] - s * middle[1], s * middle[0] + c * middle[1]];
    if (this.kept.size >= KEPT_TURNS) this.kept.delete(this.kept.keys().next().value);
    this.kept.set(key, found);
    return found;
  }
}

function cosineAndSine(turnDeg) {
  const angle = (turnDeg * Math.PI) / 180;
  const exact = (value) => (Math.abs(value) < 2.5e-16 ? 0 : value);
  return [exact(Math.cos(angle)), exact(Math.sin(angle))];
}

function spun(rows, c, s) {
  const found = new Float64Array(rows.length);
  for (let k = 0; k < rows.length; k += 2) {
    found[k] = c * rows[k] - s * rows[k + 1];
    found[k + 1] = s * rows[k] + c * rows[k + 1];
  }
  return found;
}

export function shifted(rows, x, y) {
  const found = new Float64Array(rows.length);
  for (let k = 0; k < rows.length; k += 2) {
    found[k] = rows[k] + x;
    found[k + 1] = rows[k + 1] + y;
  }
  return found;
}

// Least x and y, most x and y.
export function boxOf(rows) {
  const box = [Infinity, Infinity, -Infinity, -Infinity];
  for (let k = 0; k < rows.length; k += 2) {
    box[0] = Math.min(box[0], rows[k]);
    box[1] = Math.min(box[1], rows[k + 1]);
    box[2] = Math.max(box[2], rows[k]);
    box[3] = Math.max(box[3], rows[k + 1]);
  }
  return box;
}

export function boxesNear(one, other, reach) {
  return (
    one[0] <= other[2] + reach &&
    other[0] <= one[2] + reach &&
    one[1] <= other[3] + reach &&
    other[1] <= one[3] + reach
  );
}
