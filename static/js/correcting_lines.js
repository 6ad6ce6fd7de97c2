// What a change does to the lines, as far as the picture has to know before the server has
// answered. Lines are plain objects { id, points: [[x, y]], closed, round: [x, y, across] | null }
// in millimetres, y upwards, in a Map by id. Nothing here touches the page.

const WELD_MM = 0.3; // ends this near meet in the middle (studio/core/correcting/applying.py)
const TOLERANCE_MM = 0.02;

const distance = (a, b) => Math.hypot(a[0] - b[0], a[1] - b[1]);
const between = (a, b) => [(a[0] + b[0]) / 2, (a[1] + b[1]) / 2];

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
    return [x + radius * Math.cos(angle), y + radius * Math.sin(angle)];
  });
}

// The middle of the area inside a closed line, or of its points where it has none.
export function middle(line) {
  if (line.round) return [line.round[0], line.round[1]];
  let doubled = 0;
  let x = 0;
  let y = 0;
  line.points.forEach((a, number) => {
    const b = line.points[(number + 1) % line.points.length];
    const cross = a[0] * b[1] - b[0] * a[1];
    doubled += cross;
    x += (a[0] + b[0]) * cross;
    y += (a[1] + b[1]) * cross;
  });
  if (Math.abs(doubled) < 1e-9) return line.points[0];
  return [x / (3 * doubled), y / (3 * doubled)];
}

function movedPoint(line, change) {
  const from = line.points[change.index];
  const by = [change.to[0] - from[0], change.to[1] - from[1]];
  const points = line.points.slice();
  for (const [index, share] of shares(line, change.index, change.reach_mm)) {
    const [x, y] = line.points[index];
    points[index] = [x + share * by[0], y + share * by[1]];
  }
  return { ...line, points, round: null };
}

function joined(lines, change) {
  const one = lines.get(change.line);
  const other = lines.get(change.other);
  if (one === other) {
    const points = one.points.slice();
    const last = points[points.length - 1];
    if (distance(points[0], last) <= WELD_MM) {
      points.pop();
      points[0] = between(points[0], last);
    }
    lines.set(one.id, { ...one, points, closed: true });
    return;
  }
  const first = change.end === "last" ? one.points.slice() : one.points.slice().reverse();
  const then = change.other_end === "first" ? other.points.slice() : other.points.slice().reverse();
  if (distance(first[first.length - 1], then[0]) <= WELD_MM) {
    first[first.length - 1] = between(first[first.length - 1], then.shift());
  }
  const points = first.concat(then);
  lines.delete(other.id);
  lines.set(one.id, { ...one, points: change.end === "last" ? points : points.reverse(), round: null });
}

// A new Map with the change put on. What does not fit is left to the server to refuse.
export function applied(lines, change) {
  const after = new Map(lines);
  const line = after.get(change.line);
  if (change.do === "new-hole") {
    const id = String(Math.max(0, ...[...after.keys()].map(Number).filter(Number.isFinite)) + 1);
    const [x, y] = change.at;
    const across = change.diameter_mm;
    after.set(id, { id, points: circle(x, y, across), closed: true, round: [x, y, across] });
    return after;
  }
  if (!line) return after;
  if (change.do === "move-point" && line.points[change.index]) {
    after.set(line.id, movedPoint(line, change));
  } else if (change.do === "add-point") {
    const points = line.points.slice();
    points.splice(change.after + 1, 0, change.at);
    after.set(line.id, { ...line, points, round: null });
  } else if (change.do === "remove-point") {
    const points = line.points.filter((_, index) => index !== change.index);
    if (points.length >= (line.closed ? 3 : 2)) after.set(line.id, { ...line, points, round: null });
  } else if (change.do === "move-line") {
    const [x, y] = change.by;
    const round = line.round && [line.round[0] + x, line.round[1] + y, line.round[2]];
    after.set(line.id, { ...line, points: line.points.map((at) => [at[0] + x, at[1] + y]), round });
  } else if (change.do === "diameter" && line.closed) {
    const [x, y] = middle(line);
    const across = change.diameter_mm;
    after.set(line.id, { ...line, points: circle(x, y, across), round: [x, y, across] });
  } else if (change.do === "join" && after.has(change.other)) {
    joined(after, change);
  }
  return after;
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
  const xs = line.points.map((at) => at[0]);
  const ys = line.points.map((at) => at[1]);
  return Math.hypot(Math.max(...xs) - Math.min(...xs), Math.max(...ys) - Math.min(...ys));
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
