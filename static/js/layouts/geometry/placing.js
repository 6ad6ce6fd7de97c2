// Placements moved and turned; a placement is mirrored, turned about the origin of its drawing and
// then shifted.

export const moved = (place, dx, dy) => ({
  ...place,
  x_mm: place.x_mm + dx,
  y_mm: place.y_mm + dy,
});

// The same piece turned by so many degrees about its own middle.
export function turnedAbout(shape, place, byDeg) {
  if (byDeg === 0) return place;
  const turn_deg = withinCircle(place.turn_deg + byDeg);
  const before = shape.turned(place.mirror, place.turn_deg).middle;
  const after = shape.turned(place.mirror, turn_deg).middle;
  return moved({ ...place, turn_deg }, before[0] - after[0], before[1] - after[1]);
}

// From 0 to below 360; what a hair keeps from a whole degree is that degree.
function withinCircle(deg) {
  const whole = Math.round(deg);
  const turn = (Math.abs(deg - whole) < 1e-9 ? whole : deg) % 360;
  return turn < 0 ? turn + 360 : turn + 0;
}
