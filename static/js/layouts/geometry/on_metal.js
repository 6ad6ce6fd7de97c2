// Whether a piece lies on the metal, within one of its parts and on none of its holes. What sticks
// out by less than the judge measures does not count: a piece may lie on the edge itself.

import { touches, within } from "./distances.js";
import { TOLERANCE_MM } from "./lines.js";

// Null where a piece lies on the metal, else a point that shows that it does not. `pairs` are those
// of `Ground.near`.
export function sticksOut(ground, lying, pairs) {
  const [ax, ay, bx, by] = lying.box;
  const slack = TOLERANCE_MM;
  let told = null;
  for (const part of ground.parts) {
    const [x0, y0, x1, y1] = part.box;
    if (ax < x0 - slack || ay < y0 - slack || bx > x1 + slack || by > y1 + slack) continue;
    const at = outOf(part, lying, pairs, ground);
    if (!at) return null;
    told ??= at;
  }
  return told ?? [(ax + bx) / 2, (ay + by) / 2];
}

// The corner of a piece that lies farthest from the metal, and where the metal is nearest to it:
// { at, to }. Without a corner off the metal (all of them are round a hole) the point told.
export function farthestOut(ground, { turned, x, y }, told) {
  const own = turned.edges;
  let found = { at: told, to: onRim(ground.parts, told).at, away: -1 };
  for (let k = 0; k < own.length; k += 4) {
    const at = [own[k] + x, own[k + 1] + y];
    if (ground.parts.some(({ edges }) => within(edges, at[0], at[1]))) continue;
    const { at: to, away } = onRim(ground.parts, at);
    if (away > found.away) found = { at, to, away };
  }
  return found;
}

function outOf(part, lying, pairs, ground) {
  const { turned, x, y } = lying;
  const own = turned.edges;
  const [begin, end] = part.rows;
  let touching = false;
  for (let k = 0; k < pairs.count; k += 1) {
    const f = 4 * pairs.other[k];
    if (f < begin || f >= end) continue;
    touching = true;
    const e = 4 * pairs.own[k];
    for (const i of [e, e + 2]) {
      const at = [own[i] + x, own[i + 1] + y];
      if (isOut(part.edges, at)) return at;
    }
    for (const i of [f, f + 2]) {
      const at = [ground.edges[i], ground.edges[i + 1]];
      if (isIn(own, at[0] - x, at[1] - y)) return at;
    }
    if (pairs.apart[k] === 0 && crosses(own, e, x, y, ground.edges, f)) {
      return [pairs.px[k], pairs.py[k]];
    }
  }
  const first = [own[0] + x, own[1] + y];
  if (!touching && !within(part.edges, first[0], first[1])) return first;
  return part.holes.find(([hx, hy]) => isIn(own, hx - x, hy - y)) ?? null;
}

const isOut = (edges, [x, y]) => !within(edges, x, y) && !touches(edges, x, y, TOLERANCE_MM);
const isIn = (edges, x, y) => within(edges, x, y) && !touches(edges, x, y, TOLERANCE_MM);

// Whether two edges that meet do so in earnest: each reaches past the other on both sides.
function crosses(own, e, x, y, edges, f) {
  const [ax, ay, bx, by] = [own[e] + x, own[e + 1] + y, own[e + 2] + x, own[e + 3] + y];
  const [cx, cy, dx, dy] = [edges[f], edges[f + 1], edges[f + 2], edges[f + 3]];
  const sides = [
    from(cx, cy, dx, dy, ax, ay),
    from(cx, cy, dx, dy, bx, by),
    from(ax, ay, bx, by, cx, cy),
    from(ax, ay, bx, by, dx, dy),
  ];
  return sides.every((side) => Math.abs(side) > TOLERANCE_MM);
}

function from(ax, ay, bx, by, x, y) {
  return ((bx - ax) * (y - ay) - (by - ay) * (x - ax)) / Math.hypot(bx - ax, by - ay);
}

// The nearest point on the rims of all parts, and the square of how far that is.
function onRim(parts, [x, y]) {
  let found = { at: [x, y], away: Infinity };
  for (const { edges } of parts) {
    for (let k = 0; k < edges.length; k += 4) {
      const dx = edges[k + 2] - edges[k];
      const dy = edges[k + 3] - edges[k + 1];
      const along = ((x - edges[k]) * dx + (y - edges[k + 1]) * dy) / (dx * dx + dy * dy);
      const t = Math.min(1, Math.max(0, along));
      const at = [edges[k] + t * dx, edges[k + 1] + t * dy];
      const away = (at[0] - x) ** 2 + (at[1] - y) ** 2;
      if (away < found.away) found = { at, away };
    }
  }
  return found;
}
