// Straight lines through parts of the metal, in millimetres with y upwards: what a cut is drawn
// along while it is pulled. The server has the same, and the last word.

const LEAST_MM = 1e-6;

export class Line {
  // Through `at`, in the way of an angle's [cos, sin].
  constructor(at, way) {
    Object.assign(this, { at, way });
  }

  static between([x0, y0, x1, y1]) {
    const long = Math.hypot(x1 - x0, y1 - y0) || 1;
    return new Line([x0, y0], [(x1 - x0) / long, (y1 - y0) / long]);
  }

  // The way to its left.
  get left() {
    return [-this.way[1], this.way[0]];
  }

  // How far a point lies to its left.
  off([x, y]) {
    const [lx, ly] = this.left;
    return (x - this.at[0]) * lx + (y - this.at[1]) * ly;
  }

  along([x, y]) {
    return (x - this.at[0]) * this.way[0] + (y - this.at[1]) * this.way[1];
  }

  point(along) {
    return [this.at[0] + along * this.way[0], this.at[1] + along * this.way[1]];
  }

  shifted(mm) {
    const [lx, ly] = this.left;
    return new Line([this.at[0] + mm * lx, this.at[1] + mm * ly], this.way);
  }

  // Its stretches [x0, y0, x1, y1] inside polygons, each a list of rings.
  within(polygons) {
    const found = [];
    for (const rings of polygons) {
      const cuts = rings.flatMap((ring) => this.crossings(ring)).sort((a, b) => a - b);
      for (let k = 0; k + 1 < cuts.length; k += 2) {
        if (cuts[k + 1] - cuts[k] > LEAST_MM) found.push([...this.point(cuts[k]), ...this.point(cuts[k + 1])]);
      }
    }
    return found;
  }

  crossings(ring) {
    const found = [];
    ring.forEach((from, index) => {
      const to = ring[(index + 1) % ring.length];
      const [one, two] = [this.off(from), this.off(to)];
      if (one > 0 === two > 0) return;
      const share = one / (one - two);
      found.push(this.along([from[0] + share * (to[0] - from[0]), from[1] + share * (to[1] - from[1])]));
    });
    return found;
  }

  // How far polygons reach to its right (less than nothing) and to its left.
  spread(polygons) {
    const offs = polygons.flat(2).map((at) => this.off(at));
    return offs.length ? [Math.min(...offs), Math.max(...offs)] : [0, 0];
  }
}

export const isIn = (polygons, [x, y]) => polygons.some((rings) => inside(rings, x, y));

function inside(rings, x, y) {
  let odd = false;
  for (const ring of rings) {
    ring.forEach(([x0, y0], index) => {
      const [x1, y1] = ring[(index + 1) % ring.length];
      if (y0 > y !== y1 > y && x < x0 + ((y - y0) / (y1 - y0)) * (x1 - x0)) odd = !odd;
    });
  }
  return odd;
}

// Of the nearest stretch to a point: how far it is.
export function fromRuns(runs, [x, y]) {
  let least = Infinity;
  for (const [x0, y0, x1, y1] of runs) {
    const [dx, dy] = [x1 - x0, y1 - y0];
    const long = dx * dx + dy * dy;
    const share = long ? Math.min(1, Math.max(0, ((x - x0) * dx + (y - y0) * dy) / long)) : 0;
    least = Math.min(least, Math.hypot(x - x0 - share * dx, y - y0 - share * dy));
  }
  return least;
}
