// Plane geometry of placements, in millimetres with y upwards. A placement mirrors first (x becomes
// −x), then turns about the drawing's origin, then shifts. Nothing here touches the page.

const FULL_TURN = 360;
const STRIPES = 15; // heights at which the roomiest place in a piece is looked for

export const keyOf = (piece, copy) => `${piece} ${copy}`;

// Between 0 and 360, to a thousandth.
export const turn360 = (deg) => Number((((deg % FULL_TURN) + FULL_TURN) % FULL_TURN).toFixed(3)) % FULL_TURN;

// A point of the piece's drawing where it comes to lie on the metal.
export function laidAt(place, [x, y]) {
  const across = place.mirror ? -x : x;
  const [cos, sin] = direction(place.turn_deg);
  return [cos * across - sin * y + place.x_mm, sin * across + cos * y + place.y_mm];
}

// The other way round: which point of the drawing lies at a place of the metal.
export function drawnAt(place, [x, y]) {
  const [cos, sin] = direction(place.turn_deg);
  const [dx, dy] = [x - place.x_mm, y - place.y_mm];
  const across = cos * dx + sin * dy;
  return [place.mirror ? -across : across, cos * dy - sin * dx];
}

export function direction(deg) {
  const quarter = turn360(deg) / 90;
  if (Number.isInteger(quarter)) return [[1, 0], [0, 1], [-1, 0], [0, -1]][quarter];
  const angle = (deg * Math.PI) / 180;
  return [Math.cos(angle), Math.sin(angle)];
}

// The same placement turned (and mirrored) so that a point of the drawing stays where it lies.
export function turnedAbout(place, point, turn_deg, mirror = place.mirror) {
  const from = laidAt(place, point);
  return laidSo({ ...place, turn_deg: turn360(turn_deg), mirror }, point, from);
}

// The same placement shifted so that a point of the drawing lies at `at`.
export function laidSo(place, point, at) {
  const now = laidAt({ ...place, x_mm: 0, y_mm: 0 }, point);
  return { ...place, x_mm: at[0] - now[0], y_mm: at[1] - now[1] };
}

// [left, low, right, high]
export function boxOf(points) {
  const box = [Infinity, Infinity, -Infinity, -Infinity];
  for (const [x, y] of points) {
    if (x < box[0]) box[0] = x;
    if (y < box[1]) box[1] = y;
    if (x > box[2]) box[2] = x;
    if (y > box[3]) box[3] = y;
  }
  return box;
}

export const middleOf = ([left, low, right, high]) => [(left + right) / 2, (low + high) / 2];

export const laidBox = (place, rings) => boxOf(rings[0].map((point) => laidAt(place, point)));

// The path of rings as a picture has them, y downwards.
export function way(rings) {
  return rings.map((ring) => `M${ring.map(([x, y]) => `${short(x)} ${short(-y)}`).join("L")}Z`).join("");
}

const short = (value) => Number(value.toFixed(4));

// What puts the path of a piece where it lies; `offset` is where its metal lies in the picture.
export function transform(place, [dx, dy]) {
  const turn = place.turn_deg ? ` rotate(${-place.turn_deg})` : "";
  return `translate(${short(dx + place.x_mm)} ${short(-(dy + place.y_mm))})${turn}${place.mirror ? " scale(-1 1)" : ""}`;
}

// What puts a text at a point of the drawing, upright however the piece lies.
export function upright(place, [x, y]) {
  const turn = place.turn_deg ? ` rotate(${place.turn_deg})` : "";
  return `translate(${short(x)} ${short(-y)})${place.mirror ? " scale(-1 1)" : ""}${turn}`;
}

// A place in the piece with room for a letter, and how far it is from the outline at least.
export function roomiest(rings) {
  const [left, low, right, high] = boxOf(rings[0]);
  let best = { at: middleOf([left, low, right, high]), room: 0 };
  for (let stripe = 1; stripe < STRIPES; stripe += 1) {
    const y = low + ((high - low) * stripe) / STRIPES;
    const cuts = crossings(rings, y);
    for (let index = 0; index + 1 < cuts.length; index += 2) {
      const at = [(cuts[index] + cuts[index + 1]) / 2, y];
      if (cuts[index + 1] - cuts[index] < 2 * best.room) continue;
      const room = fromOutline(rings, at);
      if (room > best.room) best = { at, room };
    }
  }
  return best;
}

export const isInside = (ring, [x, y]) => crossings([ring], y).filter((cut) => cut > x).length % 2 === 1;

function crossings(rings, y) {
  const found = [];
  for (const ring of rings) {
    ring.forEach(([x0, y0], index) => {
      const [x1, y1] = ring[(index + 1) % ring.length];
      if (y0 > y !== y1 > y) found.push(x0 + ((y - y0) / (y1 - y0)) * (x1 - x0));
    });
  }
  return found.sort((a, b) => a - b);
}

// How far a point is from the nearest line of rings.
export function fromOutline(rings, at) {
  let least = Infinity;
  for (const ring of rings) {
    for (let index = 0; index < ring.length; index += 1) {
      least = Math.min(least, fromLine(at, ring[index], ring[(index + 1) % ring.length]));
    }
  }
  return least;
}

function fromLine([x, y], [x0, y0], [x1, y1]) {
  const [dx, dy] = [x1 - x0, y1 - y0];
  const long = dx * dx + dy * dy;
  const share = long ? Math.min(1, Math.max(0, ((x - x0) * dx + (y - y0) * dy) / long)) : 0;
  return Math.hypot(x - x0 - share * dx, y - y0 - share * dy);
}
