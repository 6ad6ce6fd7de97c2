// In words, what a piece that was just let go of lies against.

// `at` is the piece's middle on its metal.
export function where(words, snaps, [x, y]) {
  const kinds = new Set(snaps.map((snap) => snap.kind));
  if (kinds.has("corner") || snaps.filter((snap) => snap.kind === "edge").length > 1) return words.say("inCorner");
  const edge = snaps.find((snap) => snap.kind === "edge");
  if (edge) return words.say(side(edge.line, x, y));
  if (kinds.has("shared")) return words.say("sharing");
  return kinds.has("gap") ? words.say("atGap") : "";
}

function side([x0, y0, x1, y1], x, y) {
  const [across, up] = [Math.abs(x1 - x0), Math.abs(y1 - y0)];
  if (up < across * 0.2) return (y0 + y1) / 2 < y ? "lowerEdge" : "upperEdge";
  if (across < up * 0.2) return (x0 + x1) / 2 < x ? "leftEdge" : "rightEdge";
  return "anEdge";
}
