// The point nearest to a wish that lies within half-planes, each n · d ≥ least.

const SLACK_MM = 1e-7;
const MOST_ROUNDS = 40;

export class HalfPlanes {
  constructor() {
    this.count = 0;
    this.rows = new Float64Array(3 * 512);
  }

  clear() {
    this.count = 0;
  }

  add(nx, ny, least) {
    if (3 * this.count === this.rows.length) {
      const wider = new Float64Array(2 * this.rows.length);
      wider.set(this.rows);
      this.rows = wider;
    }
    const k = 3 * this.count;
    this.rows[k] = nx;
    this.rows[k + 1] = ny;
    this.rows[k + 2] = least;
    this.count += 1;
  }

  // [x, y] nearest to the wish; null where the half-planes have nothing in common. At most two of
  // them decide: each round takes in the one that is broken most, and forgets what no longer binds.
  nearestTo(wx, wy) {
    let binding = [];
    let at = [wx, wy];
    for (let round = 0; round < MOST_ROUNDS; round += 1) {
      const broken = this.mostBroken(at);
      if (broken < 0) return at;
      binding.push(broken);
      at = this.nearestWithin(binding, wx, wy);
      if (!at) return null;
      binding = binding.filter((k) => this.slackAt(k, at) < SLACK_MM);
    }
    return null;
  }

  slackAt(k, [x, y]) {
    return this.rows[k] * x + this.rows[k + 1] * y - this.rows[k + 2];
  }

  mostBroken([x, y]) {
    const { rows } = this;
    let worst = SLACK_MM;
    let found = -1;
    for (let k = 0; k < 3 * this.count; k += 3) {
      const broken = rows[k + 2] - rows[k] * x - rows[k + 1] * y;
      if (broken > worst) {
        worst = broken;
        found = k;
      }
    }
    return found;
  }

  // Among few: on one of the lines, or where two of them meet.
  nearestWithin(binding, wx, wy) {
    const { rows } = this;
    let best = Infinity;
    let found = null;
    const consider = (x, y) => {
      const away = (x - wx) ** 2 + (y - wy) ** 2;
      if (away >= best) return;
      for (const k of binding) {
        if (rows[k] * x + rows[k + 1] * y < rows[k + 2] - SLACK_MM / 10) return;
      }
      best = away;
      found = [x, y];
    };
    for (const [number, i] of binding.entries()) {
      const short = rows[i + 2] - rows[i] * wx - rows[i + 1] * wy;
      consider(wx + short * rows[i], wy + short * rows[i + 1]);
      for (const j of binding.slice(0, number)) {
        const cross = rows[i] * rows[j + 1] - rows[i + 1] * rows[j];
        if (Math.abs(cross) < 1e-9) continue;
        consider(
          (rows[i + 2] * rows[j + 1] - rows[j + 2] * rows[i + 1]) / cross,
          (rows[i] * rows[j + 2] - rows[j] * rows[i + 2]) / cross,
        );
      }
    }
    return found;
  }
}
