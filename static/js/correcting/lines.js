// Lines as the picture has them: plain objects { id, points: [[x, y]], closed,
// round: [x, y, across] | null } in millimetres, y upwards. Nothing here touches the page. What
// the server knows too is the same there: studio/core/correcting/applying.py and
// studio/core/reading/joining/rounds.py.

const TOLERANCE_MM = 0.02;
const SAME_POINT_MM = 0.0001;
const SPECK_MM = 0.1;
const MAX_SIZE_MM = 2000;
const NO_AREA = 1e-9; // of the square of the line's length
const ROUND = { leastCorners: 8, slackMm: 0.05, slackShare: 0.06, mostShare: 0.2 }; // of the radius
const PLACES = 6;

export const distance = (a, b) => Math.hypot(a[0] - b[0], a[1] - b[1]);
export const rounded = (at) => at.map((value) => Number(value.toFixed(PLACES)) + 0); // no -0

// How much of a point's way its neighbours go: 1 at the point, 0 at `reach` along the line.
export function shares(line, index, reach) {
  const found = new Map([[index, 1]]);
  if (!(reach > 0)) return found;
  const count = line.points.length;
  for (const step of [1, -1]) {
    let walked = 0;
    let here = index;
    for (;;) {
      let there = here + step;
      if (line.closed) there = (there + count) % count;
      if (there < 0 || there >= count || there === index) break;
      walked += distance(line.points[here], line.points[there]);
      if (walked >= reach) break;
      const share = 0.5 * (1 + Math.cos((Math.PI * walked) / reach));
      found.set(there, Math.max(found.get(there) ?? 0, share));
      here = there;
    }
  }
  return found;
}

export function circle(x, y, across) {
  const radius = across / 2;
  const share = Math.min(1, TOLERANCE_MM / radius);
  const count = 4 * Math.max(6, Math.ceil(Math.PI / Math.acos(1 - share) / 4));
  return Array.from({ length: count }, (_, step) => {
    const angle = (2 * Math.PI * step) / count;
    return rounded([x + radius * Math.cos(angle), y + radius * Math.sin(angle)]);
  });
}

// The middle of the area inside a closed line. A line that crosses itself, as an eight does, may
// have no area left, or its middle far off: then the middle of the line itself.
export function middle(line) {
  if (line.round) return [line.round[0], line.round[1]];
  const { points } = line;
  const [x0, y0] = points[0];
  let doubled = 0;
  let long = 0;
  const area = [0, 0];
  const way = [0, 0];
  points.forEach((a, number) => {
    const b = points[(number + 1) % points.length];
    const cross = (a[0] - x0) * (b[1] - y0) - (b[0] - x0) * (a[1] - y0);
    const far = distance(a, b);
    doubled += cross;
    long += far;
    for (const axis of [0, 1]) {
      area[axis] += cross * (points[0][axis] + a[axis] + b[axis]);
      way[axis] += (far * (a[axis] + b[axis])) / 2;
    }
  });
  const found = area.map((sum) => sum / (3 * doubled));
  const [low, high] = bounds(points);
  const inside = [0, 1].every((axis) => found[axis] >= low[axis] && found[axis] <= high[axis]);
  if (inside && Math.abs(doubled) / 2 > NO_AREA * long * long) return found;
  return long > 0 ? way.map((sum) => sum / long) : points[0];
}

// The circle [x, y, across] that a closed line is, though nobody called it so; else null.
export function roundOf(points) {
  if (points.length < ROUND.leastCorners) return null;
  const sides = points.map((a, number) => [a, points[(number + 1) % points.length]]);
  let doubled = 0;
  let x = 0;
  let y = 0;
  for (const [a, b] of sides) {
    const cross = a[0] * b[1] - b[0] * a[1];
    doubled += cross;
    x += (a[0] + b[0]) * cross;
    y += (a[1] + b[1]) * cross;
  }
  if (Math.abs(doubled) < 1e-9) return null;
  const centre = [x / (3 * doubled), y / (3 * doubled)];
  const radius = Math.sqrt(Math.abs(doubled) / (2 * Math.PI));
  let least = Infinity;
  let most = 0;
  // Corners and middles of sides, so that a polygon with long sides is no circle.
  for (const [a, b] of sides) {
    for (const far of [distance(a, centre), distance([(a[0] + b[0]) / 2, (a[1] + b[1]) / 2], centre)]) {
      least = Math.min(least, far);
      most = Math.max(most, far);
    }
  }
  if (most - least > Math.max(ROUND.slackMm, ROUND.slackShare * radius)) return null;
  return most - least > ROUND.mostShare * radius ? null : rounded([...centre, 2 * radius]);
}

// The same line without repeated points; null when none worth it is left, or it is too long.
export function sound(line) {
  const points = [];
  for (const at of line.points) {
    if (!points.length || distance(points[points.length - 1], at) > SAME_POINT_MM) points.push(at);
  }
  const last = points[points.length - 1];
  if (line.closed && points.length > 1 && distance(points[0], last) <= SAME_POINT_MM) points.pop();
  if (points.length < (line.closed ? 3 : 2)) return null;
  const [low, high] = bounds(points);
  const across = Math.max(high[0] - low[0], high[1] - low[1]);
  return across < SPECK_MM || across > MAX_SIZE_MM ? null : { ...line, points };
}

function bounds(points) {
  const low = [Infinity, Infinity];
  const high = [-Infinity, -Infinity];
  for (const at of points) {
    for (const axis of [0, 1]) {
      low[axis] = Math.min(low[axis], at[axis]);
      high[axis] = Math.max(high[axis], at[axis]);
    }
  }
  return [low, high];
}

// How much of the line follows a point when nobody has said it: a corner goes alone, a curve
// bends with its point, the farther it goes the more of it.
export function ownReach(line, index, way = 0) {
  const { points, closed } = line;
  const count = points.length;
  const before = points[index - 1] ?? (closed ? points[count - 1] : null);
  const after = points[index + 1] ?? (closed ? points[0] : null);
  if (!before || !after || turn(before, points[index], after) > 0.4) return 0;
  const far = Math.max(distance(before, points[index]), distance(points[index], after));
  return far > 6 ? 0 : Math.min(100, Math.max(3, 3 * far, 2 * way));
}

export function size(line) {
  const [low, high] = bounds(line.points);
  return distance(low, high);
}

// The way through the points as a picture wants it, y downwards.
export function way(line) {
  const path = line.points.map(([x, y]) => `${x.toFixed(3)} ${(-y).toFixed(3)}`).join("L");
  return `M${path}${line.closed ? "Z" : ""}`;
}

// Points worth a handle: no two nearer than `room`, corners and ends always, and `kept`.
export function gripped(line, room, kept) {
  const { points, closed } = line;
  const shown = [];
  let last = null;
  points.forEach((at, index) => {
    const before = points[index - 1] ?? (closed ? points[points.length - 1] : null);
    const after = points[index + 1] ?? (closed ? points[0] : null);
    const end = !before || !after;
    const near = last !== null && distance(at, last) < room;
    if (index === kept || end || !near || (turn(before, at, after) > 0.5 && distance(at, last) > room / 4)) {
      shown.push(index);
      last = at;
    }
  });
  return shown;
}

function turn(a, b, c) {
  const angle = Math.atan2(c[1] - b[1], c[0] - b[0]) - Math.atan2(b[1] - a[1], b[0] - a[0]);
  return Math.abs(Math.atan2(Math.sin(angle), Math.cos(angle)));
}
