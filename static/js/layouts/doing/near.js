// Which piece a pointer means: the one under it, windows and all, or one that it nearly touches.

import { drawnAt, fromOutline, isInside } from "../shapes.js";

// `at` is in the picture, `reach` in millimetres; the smallest piece first, null for none.
export function pieceAt({ items, scene, work }, at, reach) {
  let best = null;
  for (const [key, place] of work.laid) {
    const item = items.get(key);
    if (!item) continue;
    const [dx, dy] = scene.offset(place.metal);
    const point = drawnAt(place, [at[0] - dx, at[1] - dy]);
    const [left, low, right, high] = item.box;
    const out = Math.max(left - point[0], point[0] - right, low - point[1], point[1] - high);
    if (out > reach) continue;
    const outer = item.piece.rings[0];
    const far = isInside(outer, point) ? 0 : fromOutline([outer], point);
    const size = (right - left) * (high - low);
    if (far <= reach && (!best || far < best.far || (far === best.far && size < best.size))) best = { key, far, size };
  }
  return best?.key ?? null;
}
