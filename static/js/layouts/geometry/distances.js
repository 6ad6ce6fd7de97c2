// Distances between straight edges, with the two points where they are nearest, and which points
// lie within rings. Rows are x0, y0, x1, y1 in millimetres.

// What `between` found last: the squared distance, the point on the first and on the second edge.
// Edges are told as rows of arrays, because engines box every number that is passed by itself.
export class Nearest {
  constructor() {
    this.square = NaN;
    this.px = NaN;
    this.py = NaN;
    this.qx = NaN;
    this.qy = NaN;
  }

  // The squared distance of the edge at one[i] from that at other[j].
  between(one, i, other, j) {
    const ax = one[i];
    const ay = one[i + 1];
    const ux = one[i + 2] - ax;
    const uy = one[i + 3] - ay;
    const cx = other[j];
    const cy = other[j + 1];
    const vx = other[j + 2] - cx;
    const vy = other[j + 3] - cy;
    const wx = cx - ax;
    const wy = cy - ay;
    const cross = ux * vy - uy * vx;
    const onOne = wx * vy - wy * vx;
    const onOther = wx * uy - wy * ux;
    const meet =
      cross > 0
        ? onOne >= 0 && onOne <= cross && onOther >= 0 && onOther <= cross
        : cross < 0 && onOne <= 0 && onOne >= cross && onOther <= 0 && onOther >= cross;
    if (meet) {
      const t = onOne / cross;
      this.px = this.qx = ax + t * ux;
      this.py = this.qy = ay + t * uy;
      this.square = 0;
      return 0;
    }
    const u2 = ux * ux + uy * uy || 1;
    const v2 = vx * vx + vy * vy || 1;
    // the ends of the one on the other, then the other way round
    let t = -(wx * vx + wy * vy) / v2;
    t = t < 0 ? 0 : t > 1 ? 1 : t;
    let dx = wx + t * vx;
    let dy = wy + t * vy;
    let best = dx * dx + dy * dy;
    let [px, py, qx, qy] = [ax, ay, cx + t * vx, cy + t * vy];
    t = ((ux - wx) * vx + (uy - wy) * vy) / v2;
    t = t < 0 ? 0 : t > 1 ? 1 : t;
    dx = wx + t * vx - ux;
    dy = wy + t * vy - uy;
    let square = dx * dx + dy * dy;
    if (square < best) {
      best = square;
      [px, py, qx, qy] = [ax + ux, ay + uy, cx + t * vx, cy + t * vy];
    }
    t = (wx * ux + wy * uy) / u2;
    t = t < 0 ? 0 : t > 1 ? 1 : t;
    dx = wx - t * ux;
    dy = wy - t * uy;
    square = dx * dx + dy * dy;
    if (square < best) {
      best = square;
      [px, py, qx, qy] = [ax + t * ux, ay + t * uy, cx, cy];
    }
    t = ((wx + vx) * ux + (wy + vy) * uy) / u2;
    t = t < 0 ? 0 : t > 1 ? 1 : t;
    dx = wx + vx - t * ux;
    dy = wy + vy - t * uy;
    square = dx * dx + dy * dy;
    if (square < best) {
      best = square;
      [px, py, qx, qy] = [ax + t * ux, ay + t * uy, cx + vx, cy + vy];
    }
    this.px = px;
    this.py = py;
    this.qx = qx;
    this.qy = qy;
    this.square = best;
    return best;
  }
}

// The row at rows[k] shifted, put into `into`.
export function shiftedRow(rows, k, x, y, into) {
  into[0] = rows[k] + x;
  into[1] = rows[k + 1] + y;
  into[2] = rows[k + 2] + x;
  into[3] = rows[k + 3] + y;
  return into;
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

  // Pair k as it was found.
  at(k, into) {
    into.square = this.apart[k] * this.apart[k];
    into.px = this.px[k];
    into.py = this.py[k];
    into.qx = this.qx[k];
    into.qy = this.qy[k];
    return into;
  }
}

function wider(Kind, size, old) {
  const found = new Kind(size);
  if (old) found.set(old);
  return found;
}
