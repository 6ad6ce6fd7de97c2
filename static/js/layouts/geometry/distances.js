// Distances between straight edges, with the two points where they are nearest, and which points
// lie within rings. Rows are x0, y0, x1, y1 in millimetres.

// What `between` found last: the squared distance, the point on the first and on the second edge.
export class Nearest {
  constructor() {
    this.square = 0;
    this.px = 0;
    this.py = 0;
    this.qx = 0;
    this.qy = 0;
  }

  // The squared distance of edge a–b from edge c–d.
  between(ax, ay, bx, by, cx, cy, dx, dy) {
    const ux = bx - ax;
    const uy = by - ay;
    const vx = dx - cx;
    const vy = dy - cy;
    const wx = cx - ax;
    const wy = cy - ay;
    const cross = ux * vy - uy * vx;
    if (cross !== 0) {
      const t = (wx * vy - wy * vx) / cross;
      const s = (wx * uy - wy * ux) / cross;
      if (t >= 0 && t <= 1 && s >= 0 && s <= 1) {
        this.px = this.qx = ax + t * ux;
        this.py = this.qy = ay + t * uy;
        this.square = 0;
        return 0;
      }
    }
    this.square = Infinity;
    const u2 = ux * ux + uy * uy;
    const v2 = vx * vx + vy * vy;
    this.fromPoint(ax, ay, cx, cy, vx, vy, v2, false);
    this.fromPoint(bx, by, cx, cy, vx, vy, v2, false);
    this.fromPoint(cx, cy, ax, ay, ux, uy, u2, true);
    this.fromPoint(dx, dy, ax, ay, ux, uy, u2, true);
    return this.square;
  }

  fromPoint(x, y, cx, cy, vx, vy, v2, swap) {
    let t = v2 > 0 ? ((x - cx) * vx + (y - cy) * vy) / v2 : 0;
    t = t < 0 ? 0 : t > 1 ? 1 : t;
    const nx = cx + t * vx;
    const ny = cy + t * vy;
    const square = (nx - x) * (nx - x) + (ny - y) * (ny - y);
    if (square >= this.square) return;
    this.square = square;
    this.px = swap ? nx : x;
    this.py = swap ? ny : y;
    this.qx = swap ? x : nx;
    this.qy = swap ? y : ny;
  }
}

// Whether a point lies within rings given as rows of their edges (even-odd).
export function within(rows, x, y) {
  let inside = false;
  for (let k = 0; k < rows.length; k += 4) {
    const y0 = rows[k + 1];
    const y1 = rows[k + 3];
    if (y0 > y !== y1 > y) {
      const at = rows[k] + ((y - y0) / (y1 - y0)) * (rows[k + 2] - rows[k]);
      if (x < at) inside = !inside;
    }
  }
  return inside;
}

// Whether a point lies within so many millimetres of any of the edges.
export function touches(rows, x, y, reach) {
  const most = reach * reach;
  for (let k = 0; k < rows.length; k += 4) {
    const ax = rows[k];
    const ay = rows[k + 1];
    const dx = rows[k + 2] - ax;
    const dy = rows[k + 3] - ay;
    let t = ((x - ax) * dx + (y - ay) * dy) / (dx * dx + dy * dy);
    t = t < 0 ? 0 : t > 1 ? 1 : t;
    if ((ax + t * dx - x) ** 2 + (ay + t * dy - y) ** 2 <= most) return true;
  }
  return false;
}

// Pairs of edges found near each other: row numbers of both, distance, and where on both.
export class Pairs {
  constructor() {
    this.count = 0;
    this.grown(256);
  }

  clear() {
    this.count = 0;
  }

  grown(size) {
    for (const name of ["own", "other"]) this[name] = wider(Int32Array, size, this[name]);
    for (const name of ["apart", "px", "py", "qx", "qy"]) {
      this[name] = wider(Float64Array, size, this[name]);
    }
  }

  add(own, other, found) {
    const k = this.count;
    if (k === this.own.length) this.grown(2 * k);
    this.own[k] = own;
    this.other[k] = other;
    this.apart[k] = Math.sqrt(found.square);
    this.px[k] = found.px;
    this.py[k] = found.py;
    this.qx[k] = found.qx;
    this.qy[k] = found.qy;
    this.count = k + 1;
  }
}

function wider(Kind, size, old) {
  const found = new Kind(size);
  if (old) found.set(old);
  return found;
}
