// Edges that follow each other nearly straight, taken together: a chain lies within `slack` of its
// chord. What is far from a chain is so told at once, and only near ones are looked at edge by edge.

const MOST_EDGES = 12;
const MOST_SLACK_MM = 0.12;

// `begins` says with which edge each chain begins, and at its end how many edges there are;
// `chords` are rows of x0, y0, x1, y1. Without `together` each edge is a chain of its own.
export function chained(rows, together = true) {
  const begins = [];
  const chords = [];
  const slack = [];
  const count = rows.length / 4;
  for (let first = 0; first < count; ) {
    let last = first;
    let away = 0;
    while (together && last + 1 < count && last + 1 - first < MOST_EDGES) {
      const more = reachedBy(rows, first, last + 1);
      if (more > MOST_SLACK_MM) break;
      away = more;
      last += 1;
    }
    begins.push(first);
    chords.push(rows[4 * first], rows[4 * first + 1], rows[4 * last + 2], rows[4 * last + 3]);
    slack.push(away);
    first = last + 1;
  }
  begins.push(count);
  return {
    begins: Int32Array.from(begins),
    chords: Float64Array.from(chords),
    slack: Float64Array.from(slack),
  };
}

// How far edges `first` to `last` come from the line between their ends; Infinity where they do
// not follow each other, or turn back.
function reachedBy(rows, first, last) {
  const k = 4 * last;
  if (rows[k] !== rows[k - 2] || rows[k + 1] !== rows[k - 1]) return Infinity;
  const [x0, y0] = [rows[4 * first], rows[4 * first + 1]];
  const dx = rows[k + 2] - x0;
  const dy = rows[k + 3] - y0;
  const length = Math.hypot(dx, dy);
  let far = 0;
  for (let i = 4 * first; i < k; i += 4) {
    const x = rows[i + 2] - x0;
    const y = rows[i + 3] - y0;
    const along = (x * dx + y * dy) / length;
    if (!(along >= 0 && along <= length)) return Infinity;
    far = Math.max(far, Math.abs(x * dy - y * dx) / length);
  }
  return far + 1e-9;
}
