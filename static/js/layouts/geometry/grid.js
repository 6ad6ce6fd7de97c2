// Edges in the squares of an even grid, so that those near a box are found without looking at all.

const LEAST_SQUARE_MM = 3;
const MOST_SQUARES = 200; // each way

export class Grid {
  constructor(edges) {
    this.edges = edges;
    const count = edges.length / 4;
    let [x0, y0, x1, y1] = [Infinity, Infinity, -Infinity, -Infinity];
    for (let k = 0; k < edges.length; k += 2) {
      x0 = Math.min(x0, edges[k]);
      y0 = Math.min(y0, edges[k + 1]);
      x1 = Math.max(x1, edges[k]);
      y1 = Math.max(y1, edges[k + 1]);
    }
    if (!count) [x0, y0, x1, y1] = [0, 0, 0, 0];
    this.x0 = x0;
    this.y0 = y0;
    this.side = Math.max(LEAST_SQUARE_MM, (x1 - x0) / MOST_SQUARES, (y1 - y0) / MOST_SQUARES);
    this.columns = Math.floor((x1 - x0) / this.side) + 1;
    this.rows = Math.floor((y1 - y0) / this.side) + 1;
    this.seen = new Uint32Array(count); // by which search an edge was met last
    this.search = 0;
    this.found = new Int32Array(count);
    this.fill();
  }

  // The edges of each square follow each other in `members`, from `begins` on.
  fill() {
    const { edges } = this;
    const counts = new Int32Array(this.columns * this.rows + 1);
    const visit = (put) => {
      for (let k = 0; k < edges.length; k += 4) {
        const ax = Math.min(edges[k], edges[k + 2]);
        const bx = Math.max(edges[k], edges[k + 2]);
        const ay = Math.min(edges[k + 1], edges[k + 3]);
        const by = Math.max(edges[k + 1], edges[k + 3]);
        for (let row = this.row(ay); row <= this.row(by); row += 1) {
          const first = row * this.columns;
          for (let c = this.column(ax); c <= this.column(bx); c += 1) put(first + c, k >> 2);
        }
      }
    };
    visit((square) => {
      counts[square + 1] += 1;
    });
    for (let k = 1; k < counts.length; k += 1) counts[k] += counts[k - 1];
    this.begins = counts.slice();
    this.members = new Int32Array(counts[counts.length - 1]);
    visit((square, edge) => {
      this.members[counts[square]] = edge;
      counts[square] += 1;
    });
  }

  column(x) {
    const at = Math.floor((x - this.x0) / this.side);
    return at < 0 ? 0 : at >= this.columns ? this.columns - 1 : at;
  }

  row(y) {
    const at = Math.floor((y - this.y0) / this.side);
    return at < 0 ? 0 : at >= this.rows ? this.rows - 1 : at;
  }

  // How many edges have boxes that meet this one; which, is in `found`.
  near(ax, ay, bx, by) {
    const { edges, begins, members, seen, found } = this;
    this.search += 1;
    const { search } = this;
    let count = 0;
    const firstColumn = this.column(ax);
    const lastColumn = this.column(bx);
    const lastRow = this.row(by);
    for (let row = this.row(ay); row <= lastRow; row += 1) {
      const square = row * this.columns;
      const end = begins[square + lastColumn + 1];
      for (let m = begins[square + firstColumn]; m < end; m += 1) {
        const edge = members[m];
        if (seen[edge] === search) continue;
        seen[edge] = search;
        const k = 4 * edge;
        const ex = edges[k];
        const fx = edges[k + 2];
        if ((ex > bx && fx > bx) || (ex < ax && fx < ax)) continue;
        const ey = edges[k + 1];
        const fy = edges[k + 3];
        if ((ey > by && fy > by) || (ey < ay && fy < ay)) continue;
        found[count] = edge;
        count += 1;
      }
    }
    return count;
  }
}
