// What a change does to the lines, as far as the picture has to know before the server has
// answered: studio/core/correcting/applying.py, and the bounds of changes_json.py beside it, do
// the same for good. Lines (lines.js) are in a Map by id. Nothing here touches the page.

import { circle, distance, middle, rounded, roundOf, shares, sound } from "./lines.js";

const WELD_MM = 0.3; // ends this near meet in the middle; a wider gap is bridged straight
const FAR_MM = 4000;
const LEAST_HOLE_MM = 0.2;
const MOST_CIRCLE_MM = 2000;
const MOST_REACH_MM = 100;
const MOST_LINES = 2000;
const MOST_LINE_POINTS = 10000;
const MOST_POINTS = 80000;
const ENDS = ["first", "last"];

// Each puts its change on the Map and says whether it fits.
const CHANGES = {
  redraw,
  "move-point": movePoint,
  "add-point": addPoint,
  "remove-point": removePoint,
  "move-line": moveLine,
  join,
  diameter,
  "new-hole": newHole,
  name: (lines, { labels }) => Object.keys(labels).every((id) => lines.has(id)),
};

// A new Map with the change put on; the one given where the server will refuse the change.
export function applied(lines, change) {
  const after = new Map(lines);
  if (!CHANGES[change.do]?.(after, change)) return lines;
  let count = 0;
  for (const line of after.values()) count += line.points.length;
  return count > MOST_POINTS ? lines : after;
}

function redraw(lines, change) {
  const line = lines.get(change.line);
  if (!line || change.points.length > MOST_LINE_POINTS || !change.points.every(isPlace)) return false;
  const { closed } = change;
  const round = change.round && rounded(change.round);
  if (round && !(closed && round.length === 3 && isPlace(round.slice(0, 2)) && isAcross(round[2]))) return false;
  return put(lines, { ...line, points: change.points.map(rounded), closed, round });
}

function movePoint(lines, { line: id, index, to, reach_mm = 0 }) {
  const line = lines.get(id);
  if (!hasPoint(line, index) || !isPlace(to) || !isBetween(reach_mm, 0, MOST_REACH_MM)) return false;
  const from = line.points[index];
  const there = rounded(to);
  const points = line.points.slice();
  for (const [other, share] of shares(line, index, rounded([reach_mm])[0])) {
    points[other] = rounded([0, 1].map((axis) => points[other][axis] + share * (there[axis] - from[axis])));
  }
  points[index] = there;
  return put(lines, reshaped(line, points));
}

function addPoint(lines, { line: id, after, at }) {
  const line = lines.get(id);
  if (!hasPoint(line, after) || !isPlace(at)) return false;
  if (!line.closed && after === line.points.length - 1) return false; // between two others only
  const points = line.points.slice();
  points.splice(after + 1, 0, rounded(at));
  return put(lines, reshaped(line, points));
}

function removePoint(lines, { line: id, index }) {
  const line = lines.get(id);
  if (!hasPoint(line, index)) return false;
  return put(lines, reshaped(line, line.points.filter((_, other) => other !== index)));
}

function moveLine(lines, { line: id, by }) {
  const line = lines.get(id);
  if (!line || !isPlace(by)) return false;
  const [x, y] = rounded(by);
  const moved = (at) => rounded([at[0] + x, at[1] + y]);
  const round = line.round && [...moved(line.round), line.round[2]];
  return put(lines, { ...line, points: line.points.map(moved), round });
}

function join(lines, { line: id, end, other: otherId, other_end: otherEnd }) {
  const [line, other] = [lines.get(id), lines.get(otherId)];
  if (!line || !other || line.closed || other.closed) return false;
  if (!ENDS.includes(end) || !ENDS.includes(otherEnd)) return false;
  if (line === other) return end !== otherEnd && put(lines, reshaped({ ...line, closed: true }, closing(line.points)));
  const first = end === "last" ? line.points : turned(line.points);
  const then = otherEnd === "first" ? other.points : turned(other.points);
  const points = bridged(first, then);
  lines.delete(other.id);
  return put(lines, { ...line, points: end === "last" ? points : turned(points), round: null });
}

function closing(points) {
  const [first, last] = [points[0], points[points.length - 1]];
  return distance(first, last) > WELD_MM ? points : [between(first, last), ...points.slice(1, -1)];
}

function bridged(first, then) {
  const [a, b] = [first[first.length - 1], then[0]];
  if (distance(a, b) > WELD_MM) return [...first, ...then];
  return [...first.slice(0, -1), between(a, b), ...then.slice(1)];
}

function diameter(lines, { line: id, diameter_mm: across }) {
  const line = lines.get(id);
  return Boolean(line?.closed) && isAcross(across) && put(lines, asCircle(line, middle(line), across));
}

function newHole(lines, { at, diameter_mm: across }) {
  if (lines.size >= MOST_LINES || !isPlace(at) || !isAcross(across)) return false;
  const numbers = [...lines.keys()].filter((id) => /^\d+$/.test(id)).map(Number);
  return put(lines, asCircle({ id: String(Math.max(0, ...numbers) + 1) }, at, across));
}

function asCircle(line, at, asked) {
  const [x, y, across] = rounded([...at, asked]);
  return { ...line, points: circle(x, y, across), closed: true, round: [x, y, across] };
}

// The line through these points; whether it still is a circle is looked at again.
function reshaped(line, points) {
  const kept = sound({ ...line, points, round: null });
  return kept?.closed ? { ...kept, round: roundOf(kept.points) } : kept;
}

function put(lines, line) {
  const kept = line && sound(line);
  if (kept) lines.set(kept.id, kept);
  return Boolean(kept);
}

const turned = (points) => points.slice().reverse();
const between = (a, b) => rounded([(a[0] + b[0]) / 2, (a[1] + b[1]) / 2]);
const hasPoint = (line, index) => Number.isInteger(index) && Boolean(line?.points[index]);
const isBetween = (value, least, most) => Number.isFinite(value) && value >= least && value <= most;
const isAcross = (value) => isBetween(Number.isFinite(value) ? rounded([value])[0] : value, LEAST_HOLE_MM, MOST_CIRCLE_MM);
const isPlace = (at) => at.length === 2 && at.every((value) => isBetween(value, -FAR_MM, FAR_MM));
