// The pieces to lay, each copy by itself, as all the page names and draws them.

import { boxOf, keyOf, middleOf, roomiest, way } from "./shapes.js";

// By key, in the pieces' order: { key, piece, copy, label, name, path, box, middle, spot, room }. About
// `middle` a piece is turned; at `spot` it has most room for its name: `room` millimetres around.
export function items(pieces, words) {
  const found = new Map();
  for (const piece of pieces) {
    const { at, room } = roomiest(piece.rings);
    const path = way(piece.rings);
    const box = boxOf(piece.rings[0]);
    const middle = middleOf(box);
    for (let copy = 0; copy < piece.count; copy += 1) {
      const number = piece.count > 1 ? String(copy + 1) : "";
      const key = keyOf(piece.id, copy);
      found.set(key, {
        key,
        piece,
        copy,
        label: piece.labels?.[copy] ?? `${piece.letter}${number}`,
        name: number ? words.say("copy", { piece: piece.name, number }) : piece.name,
        path,
        box,
        middle,
        spot: at,
        room,
      });
    }
  }
  return found;
}

// The turn nearest to `deg` in which a piece may lie; `step` degrees on at least when it is given.
export function allowedTurn(piece, deg, step = 0) {
  const { turns_deg: turns } = piece;
  if (!turns?.length) return deg;
  const far = (turn) => Math.abs(((((turn - deg) % 360) + 540) % 360) - 180);
  if (!step) return turns.reduce((best, turn) => (far(turn) < far(best) ? turn : best));
  const from = deg - step;
  const on = (turn) => ((((turn - from) * Math.sign(step)) % 360) + 359.999) % 360;
  return turns.reduce((best, turn) => (on(turn) < on(best) ? turn : best));
}
