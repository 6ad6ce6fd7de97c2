// In words, what a piece that was just let go of lies against.

const MOST_SAID = 2;

// `at` is the piece's middle on its metal; `clean` are the metal's clean edges as in the state.
export function where(words, snaps, at, clean) {
  const found = snaps.filter((snap) => snap.line).map((snap) => name(snap, at, clean));
  const said = [...new Set(found)].slice(0, MOST_SAID).map((one) => words.say(one));
  return said.length === 2 ? words.say("both", { one: said[0], other: said[1] }) : (said[0] ?? "");
}

// In a corner two lines hold a piece; which of them are the metal's own edges is seen by where
// they lie.
function name({ kind, line }, at, clean) {
  if (kind === "gap") return "atGap";
  const isEdge = kind === "edge" || (kind === "corner" && clean.some((edge) => along(edge, line)));
  return isEdge ? side(line, at) : "sharing";
}

const NEAR_MM = 0.05;

function along([x0, y0, x1, y1], [ax, ay, bx, by]) {
  const long = Math.hypot(x1 - x0, y1 - y0);
  const off = (x, y) => Math.abs((x1 - x0) * (y - y0) - (y1 - y0) * (x - x0)) / long;
  return long > 0 && off(ax, ay) < NEAR_MM && off(bx, by) < NEAR_MM;
}

function side([x0, y0, x1, y1], [x, y]) {
  const [across, up] = [Math.abs(x1 - x0), Math.abs(y1 - y0)];
  if (up < across * 0.2) return (y0 + y1) / 2 < y ? "lowerEdge" : "upperEdge";
  if (across < up * 0.2) return (x0 + x1) / 2 < x ? "leftEdge" : "rightEdge";
  return "anEdge";
}
