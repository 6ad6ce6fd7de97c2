// Which parts of an edge lie outside every zone, where the gap holds without exception: the same
// as studio/core/verifying/zones.py, edge by edge.

const ALONG_MM = 0.1;
const LEAST_MM = 1e-6;

// The rows of an edge's parts that neither run along a line (rows of `lines`) nor lie within
// `reach` of its ends. Near an end is a disc, along a line a narrow band, each convex: an edge
// meets it in one span.
export function outside(x0, y0, x1, y1, lines, reach) {
  const length = Math.hypot(x1 - x0, y1 - y0);
  const ux = (x1 - x0) / (length || 1);
  const uy = (y1 - y0) / (length || 1);
  const spans = [];
  for (let k = 0; k < lines.length; k += 4) {
    roundEnd(lines[k] - x0, lines[k + 1] - y0, ux, uy, length, reach, spans);
    roundEnd(lines[k + 2] - x0, lines[k + 3] - y0, ux, uy, length, reach, spans);
    alongLine(x0, y0, ux, uy, length, lines, k, spans);
  }
  if (!spans.length) return length > LEAST_MM ? [x0, y0, x1, y1] : [];
  spans.sort((one, other) => one[0] - other[0]);
  const rest = [];
  let at = 0;
  const keep = (begin, end) => {
    rest.push(x0 + ux * begin, y0 + uy * begin, x0 + ux * end, y0 + uy * end);
  };
  for (const [begin, end] of spans) {
    if (begin > at + LEAST_MM) keep(at, begin);
    at = Math.max(at, end);
  }
  if (length > at + LEAST_MM) keep(at, length);
  return rest;
}

function put(low, high, length, spans) {
  const begin = Math.max(low, 0);
  const end = Math.min(high, length);
  if (end > begin) spans.push([begin, end]);
}

function roundEnd(dx, dy, ux, uy, length, reach, spans) {
  const middle = dx * ux + dy * uy;
  const rest = reach * reach - (dx * dx + dy * dy - middle * middle);
  if (rest <= 0) return;
  const half = Math.sqrt(rest);
  put(middle - half, middle + half, length, spans);
}

function alongLine(x0, y0, ux, uy, length, lines, k, spans) {
  const long = Math.hypot(lines[k + 2] - lines[k], lines[k + 3] - lines[k + 1]);
  if (long < 1e-12) return;
  const vx = (lines[k + 2] - lines[k]) / long;
  const vy = (lines[k + 3] - lines[k + 1]) / long;
  const along = (x0 - lines[k]) * vx + (y0 - lines[k + 1]) * vy;
  const across = (x0 - lines[k]) * vy - (y0 - lines[k + 1]) * vx;
  const one = bounded(along, ux * vx + uy * vy, 0, long);
  const other = bounded(across, ux * vy - uy * vx, -ALONG_MM, ALONG_MM);
  put(Math.max(one[0], other[0]), Math.min(one[1], other[1]), length, spans);
}

// For which t the sum start + step · t lies between two bounds.
function bounded(start, step, least, most) {
  if (Math.abs(step) < 1e-12) {
    return start >= least && start <= most ? [-Infinity, Infinity] : [Infinity, -Infinity];
  }
  const one = (least - start) / step;
  const other = (most - start) / step;
  return one < other ? [one, other] : [other, one];
}
