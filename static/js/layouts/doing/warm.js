// A browser is slow with what it does for the first time, and the first time would be the moment in
// which somebody takes a piece up. So pieces are moved about in thought before, while nothing else
// is to be done.

import { Bench } from "../geometry/bench.js";

const SLICE_MS = 5; // at a time; one move may take longer
const MOST_MS = 500; // in all
const NEXT_MS = 120; // where a browser does not tell when it is idle
const NEW_TABLE = 6; // after so many moves another table is set, as after each that a hand makes
const AWAY_MM = [0.4, 1.5, 4, 9, 20];
const GOLDEN_TURN = 2.4; // radians: every way is another one

// `desk` has state, work, items, fresh(item); `rests()` says whether somebody is at work.
export function warm(desk, rests) {
  const idle = globalThis.requestIdleCallback ?? ((next) => setTimeout(next, NEXT_MS));
  const items = [...desk.items.values()];
  const { rules, metal, pieces } = desk.state;
  const own = new Bench(rules, metal, pieces); // so that the real one is in nobody's way
  let spent = 0;
  let tried = 0;
  const slice = () => {
    const begun = performance.now();
    while (!rests() && performance.now() - begun < SLICE_MS) {
      if (tried % NEW_TABLE === 0) own.set([...desk.work.laid.values()]);
      tryOne(desk, own, items[tried % items.length], tried);
      tried += 1;
    }
    spent += performance.now() - begun;
    if (spent < MOST_MS) idle(slice);
  };
  if (items.length) idle(slice);
}

function tryOne(desk, bench, item, tried) {
  const { metal, mirror, turn_deg, x_mm, y_mm } = desk.work.placed(item.key) ?? desk.fresh(item);
  const far = AWAY_MM[tried % AWAY_MM.length];
  const way = tried * GOLDEN_TURN;
  const wish = { metal, mirror, turn_deg, x_mm: x_mm + far * Math.cos(way), y_mm: y_mm + far * Math.sin(way) };
  bench.hold(item.piece.id, item.copy).towards(wish, { slide: true, snap: true, reach_mm: 2 });
}
