// Which straight runs of a piece could come to lie on a clean edge or along another piece's run,
// and by what turn and shift.

import { ON_EDGE_MM } from "./lines.js";

const MOST_TURN_DEG = 5;
const EXACT_DEG = 1e-9;
const SKEW_MM = 0.8 * ON_EDGE_MM; // what may not turn lies along a line if it strays by no more
const LEAST_COS = Math.cos((MOST_TURN_DEG * Math.PI) / 180);

// Runs within `reach` of a line that they could have, the nearest first: the turn in degrees about
// the middle of the piece, then by how much to move along the normal [nx, ny] of the line.
export function alignments(ground, lying, middle, { reach, mayTurn }) {
  const { rules } = ground;
  const found = [];
  const asked = { middle, reach, mayTurn, least: rules.straight_min_mm };
  const { runs, shellRuns } = lying;
  for (let r = 0; r < runs.length; r += 4) {
    if (!shellRuns[r / 4]) continue;
    for (let f = 0; f < ground.cleanRuns.length; f += 4) {
      const one = aligned(runs, r, ground.cleanRuns, f, { ...asked, facing: 1, rest: 0 });
      if (one) found.push({ ...one, kind: "edge", run: r });
    }
  }
  const rest = -rules.shared_mm;
  for (const { lying: other } of ground.neighbours(lying.box, reach + rules.shared_mm)) {
    for (let r = 0; r < runs.length; r += 4) {
      for (let f = 0; f < other.runs.length; f += 4) {
        const one = aligned(runs, r, other.runs, f, { ...asked, facing: -1, rest });
        if (one) found.push({ ...one, kind: "shared", run: r });
      }
    }
  }
  const radius = Math.hypot(lying.box[2] - lying.box[0], lying.box[3] - lying.box[1]) / 2;
  const cost = ({ move, turn }) => Math.abs(move) + (Math.abs(turn) * Math.PI * radius) / 180;
  return found.sort((one, other) => cost(one) - cost(other));
}

// `rest` is how far left of the line the run is to lie.
function aligned(runs, r, lines, f, { middle, reach, mayTurn, least, facing, rest }) {
  const length = Math.hypot(lines[f + 2] - lines[f], lines[f + 3] - lines[f + 1]);
  const ux = (lines[f + 2] - lines[f]) / length;
  const uy = (lines[f + 3] - lines[f + 1]) / length;
  const rx = runs[r + 2] - runs[r];
  const ry = runs[r + 3] - runs[r + 1];
  const long = Math.hypot(rx, ry);
  const dot = (facing * (rx * ux + ry * uy)) / long;
  if (dot < LEAST_COS) return null;
  let turn = (Math.atan2(facing * (rx * uy - ry * ux), facing * (rx * ux + ry * uy)) * 180) / Math.PI;
  if (Math.abs(turn) < EXACT_DEG) turn = 0;
  if (!mayTurn && turn !== 0) {
    const stray = (Math.sin((Math.abs(turn) * Math.PI) / 180) * Math.min(long, length)) / 2;
    if (stray > SKEW_MM) return null;
    turn = 0;
  }
  const angle = (turn * Math.PI) / 180;
  const [c, s] = [Math.cos(angle), Math.sin(angle)];
  const mx = (runs[r] + runs[r + 2]) / 2 - middle[0];
  const my = (runs[r + 1] + runs[r + 3]) / 2 - middle[1];
  const x = middle[0] + c * mx - s * my - lines[f];
  const y = middle[1] + s * mx + c * my - lines[f + 1];
  const move = rest - (ux * y - uy * x);
  if (Math.abs(move) > reach) return null;
  const at = ux * x + uy * y;
  const low = Math.max(0, at - long / 2);
  const high = Math.min(length, at + long / 2);
  if (high - low < least + 1e-6) return null;
  const line = [lines[f], lines[f + 1], lines[f + 2], lines[f + 3]];
  return { turn, move, nx: -uy, ny: ux, line };
}

// How far along a line a run would have to go for an end of both to meet: the shorter way.
export function toMeetEnds(runs, r, line) {
  const length = Math.hypot(line[2] - line[0], line[3] - line[1]);
  const [ux, uy] = [(line[2] - line[0]) / length, (line[3] - line[1]) / length];
  const along = (x, y) => (x - line[0]) * ux + (y - line[1]) * uy;
  const first = along(runs[r], runs[r + 1]);
  const last = along(runs[r + 2], runs[r + 3]);
  const ways = [length - Math.max(first, last), -Math.min(first, last)];
  const shorter = Math.abs(ways[0]) < Math.abs(ways[1]) ? ways[0] : ways[1];
  return { move: shorter, nx: ux, ny: uy };
}

// The stretch of a line beside which a run lies.
export function commonStretch(runs, r, line) {
  const length = Math.hypot(line[2] - line[0], line[3] - line[1]);
  const [ux, uy] = [(line[2] - line[0]) / length, (line[3] - line[1]) / length];
  const along = [0, 2].map((i) => (runs[r + i] - line[0]) * ux + (runs[r + i + 1] - line[1]) * uy);
  const low = Math.max(0, Math.min(...along));
  const high = Math.min(length, Math.max(...along));
  return [line[0] + ux * low, line[1] + uy * low, line[0] + ux * high, line[1] + uy * high];
}

