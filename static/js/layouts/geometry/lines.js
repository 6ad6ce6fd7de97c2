// Free edges and shared lines, as the judge has them (studio/core/verifying: saw_lines.py and
// cuts.py): common stretches of straight runs, all as flat rows of x0, y0, x1, y1.

import { boxesNear } from "./shapes.js";

export const ON_EDGE_MM = 0.05;
export const TOLERANCE_MM = 0.001;
const PARALLEL = 0.1; // sine of the greatest angle between two runs that lie along each other
const HAIR_MM = 1e-6;

// From where to where along run e (in mm from its start) run f lies `gap` to its right, true to
// `trueTo`; null where that is nowhere, or shorter than `least`. `facing` is 1 for runs in the
// same sense, −1 for opposite ones.
export function spanBeside(es, e, fs, f, { gap, facing, least, trueTo = ON_EDGE_MM }) {
  const x0 = es[e];
  const y0 = es[e + 1];
  const length = Math.hypot(es[e + 2] - x0, es[e + 3] - y0);
  const ux = (es[e + 2] - x0) / length;
  const uy = (es[e + 3] - y0) / length;
  const along0 = (fs[f] - x0) * ux + (fs[f + 1] - y0) * uy;
  const along1 = (fs[f + 2] - x0) * ux + (fs[f + 3] - y0) * uy;
  const across0 = (fs[f] - x0) * uy - (fs[f + 1] - y0) * ux;
  const across1 = (fs[f + 2] - x0) * uy - (fs[f + 3] - y0) * ux;
  const run = along1 - along0;
  const rise = across1 - across0;
  if (!(run * facing > 0) || Math.abs(rise) > PARALLEL * Math.abs(run)) return null;
  if (Math.min(across0, across1) > gap + trueTo) return null;
  if (Math.max(across0, across1) < gap - trueTo) return null;
  let low = Math.max(0, Math.min(along0, along1));
  let high = Math.min(length, Math.max(along0, along1));
  const slope = rise / run;
  if (Math.abs(slope) > 1e-12) {
    // only as far as the two stay within the tolerance
    const one = along0 + (gap - trueTo - across0) / slope;
    const other = along0 + (gap + trueTo - across0) / slope;
    low = Math.max(low, Math.min(one, other));
    high = Math.min(high, Math.max(one, other));
  }
  return high - low >= least - HAIR_MM ? [low, high] : null;
}

function merged(spans) {
  spans.sort((one, other) => one[0] - other[0] || one[1] - other[1]);
  const found = [];
  for (const [low, high] of spans) {
    const last = found[found.length - 1];
    if (last && low <= last[1] + 1e-9) last[1] = Math.max(last[1], high);
    else found.push([low, high]);
  }
  return found;
}

// The stretches of runs `es` beside any of `fs`, put at the end of `into`.
function stretches(es, fs, asked, into, chosen = null) {
  for (let e = 0; e < es.length; e += 4) {
    if (chosen && !chosen[e / 4]) continue;
    let spans = null;
    for (let f = 0; f < fs.length; f += 4) {
      const span = spanBeside(es, e, fs, f, asked);
      if (span) (spans ??= []).push(span);
    }
    if (!spans) continue;
    const length = Math.hypot(es[e + 2] - es[e], es[e + 3] - es[e + 1]);
    const ux = (es[e + 2] - es[e]) / length;
    const uy = (es[e + 3] - es[e + 1]) / length;
    for (const [low, high] of merged(spans)) {
      into.push(es[e] + ux * low, es[e + 1] + uy * low, es[e] + ux * high, es[e + 1] + uy * high);
    }
  }
  return into;
}

const leastOf = (rules) => Math.max(rules.straight_min_mm, HAIR_MM);

// What a piece has of free edges. A lying piece has `runs` as they lie, `shellRuns` and `box`.
export function freeLines(lying, cleanRuns, rules, into = []) {
  const asked = { gap: 0, facing: 1, least: leastOf(rules) };
  return stretches(lying.runs, cleanRuns, asked, into, lying.shellRuns);
}

// The shared lines of two pieces, on both of them.
export function sharedLines(one, other, rules, into = []) {
  if (!boxesNear(one.box, other.box, rules.shared_mm + 3 * ON_EDGE_MM)) return into;
  const asked = { gap: rules.shared_mm, facing: -1, least: leastOf(rules) };
  stretches(one.runs, other.runs, asked, into);
  return stretches(other.runs, one.runs, asked, into);
}

// The stretches of the runs of the first piece that face the second's nearer than a shared line.
export function tooNarrow(first, second, rules) {
  const narrow = Math.min(rules.shared_mm - ON_EDGE_MM, rules.gap_mm) - TOLERANCE_MM;
  if (narrow <= 0) return [];
  const least = leastOf(rules);
  const asked = { gap: narrow / 2, facing: -1, least, trueTo: narrow / 2 };
  return stretches(first.runs, second.runs, asked, []);
}
