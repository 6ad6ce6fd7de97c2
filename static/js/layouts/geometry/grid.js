// Lines in the squares of an even grid, so that those near a box are found without looking at all.

const LEAST_SQUARE_MM = 3;
const MOST_SQUARES = 200; // each way

export class Grid {
  // `lines` are rows of x0, y0, x1, y1; what belongs to each lies within its `slack` of it.
  constructor(lines, slack) {
    const count = lines.length / 4;
    this.boxes = boxesOf(lines, slack);
    let [x0, y0, x1, y1] = count ? [Infinity, Infinity, -Infinity, -Infinity] : [0, 0, 0, 0];
    for (let k = 0; k < this.boxes.length; k += 4) {
      x0 = Math.min(x0, this.boxes[k]);
      y0 = Math.min(y0, this.boxes[k + 1]);
      x1 = Math.max(x1, this.boxes[k + 2]);
      y1 = Math.max(y1, this.boxes[k + 3]);
    }
    this.x0 = x0;
    this.y0 = y0;
    this.side = Math.max(LEAST_SQUARE_MM, (x1 - x0) / MOST_SQUARES, (y1 - y0) / MOST_SQUARES);
    this.columns = Math.floor((x1 - x0) / this.side) + 1;
    this.rows = Math.floor((y1 - y0) / this.side) + 1;
    this.seen = new Uint32Array(count); // by which search a line was met last
    this.search = 0;
    this.found = new Int32Array(count);
    this.fill();
  }

  // The lines of each square follow each other in `members`, from `begins` on.
  fill() {
    const counts = new Int32Array(this.columns * this.rows + 1);
    this.visit((square) => {
      counts[square + 1] += 1;
    });
    for (let k = 1; k < counts.length; k += 1) counts[k] += counts[k - 1];
    this.begins = counts.slice();
    this.members = new Int32Array(counts[counts.length - 1]);
    this.visit((square, line) => {
      this.members[counts[square]] = line;
      counts[square] += 1;
    });
  }

  visit(put) {
    const { boxes } = this;
    for (let k = 0; k < boxes.length; k += 4) {
      for (let row = this.row(boxes[k + 1]); row <= this.row(boxes[k + 3]); row += 1) {
        const first = row * this.columns;
        const last = this.column(boxes[k + 2]);
        for (let c = this.column(boxes[k]); c <= last; c += 1) put(first + c, k >> 2);
      }
    }
  }

  column(x) {
    const at = Math.floor((x - this.x0) / this.side);
    return at < 0 ? 0 : at >= this.columns ? this.columns - 1 : at;
  }

  row(y) {
    const at = Math.floor((y - this.y0) / this.side);
    return at < 0 ? 0 : at >= this.rows ? this.rows - 1 : at;
  }

  // How many lines have boxes that come within `far` of a row's; which, is in `found`.
  near(row, far) {
    const x0 = row[0];
    const y0 = row[1];
    const x1 = row[2];
    const y1 = row[3];
    const ax = (x0 < x1 ? x0 : x1) - far;
    const ay = (y0 < y1 ? y0 : y1) - far;
    const bx = (x0 > x1 ? x0 : x1) + far;
    const by = (y0 > y1 ? y0 : y1) + far;
    const { boxes, begins, members, seen, found } = this;
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
        const line = members[m];
        if (seen[line] === search) continue;
        seen[line] = search;
        const k = 4 * line;
        if (boxes[k] > bx || boxes[k + 2] < ax || boxes[k + 1] > by || boxes[k + 3] < ay) continue;
        found[count] = line;
        count += 1;
      }
    }
    return count;
  }
}

function boxesOf(lines, slack) {
  const found = new Float64Array(lines.length);
  for (let k = 0; k < lines.length; k += 4) {
    const more = slack[k / 4];
    found[k] = Math.min(lines[k], lines[k + 2]) - more;
    found[k + 1] = Math.min(lines[k + 1], lines[k + 3]) - more;
    found[k + 2] = Math.max(lines[k], lines[k + 2]) + more;
    found[k + 3] = Math.max(lines[k + 1], lines[k + 3]) + more;
  }
  return found;
}
