// One piece in hand: where it is held, where it goes, and what it catches on there.

import { on } from "../faults.js";
import { allowedTurn } from "../pieces.js";
import { drawnAt, laidAt, laidSo, turn360 } from "../shapes.js";

const CATCH_PX = 8;
const CATCH_DEG = 3;
const CATCH_TURN = 15;

export class Pull {
  // `at` is the place in the picture that the hand holds; null from the tray, and for turning.
  constructor(desk, key, at, turning = false) {
    Object.assign(this, { desk, key, turning });
    this.item = desk.items.get(key);
    this.before = desk.work.placed(key);
    this.place = this.before ?? desk.fresh(this.item);
    this.held = desk.bench.hold(this.item.piece.id, this.item.copy);
    this.faults = [];
    this.grip = this.item.middle;
    if (at && !turning) {
      const [dx, dy] = desk.scene.offset(this.place.metal);
      this.grip = drawnAt(this.place, [at[0] - dx, at[1] - dy]);
    }
    desk.marks.faults(desk.faults.all(key));
    this.away = !this.before; // not over the metal
    this.turn = this.place.turn_deg;
  }

  // Those that go along with it, where they would lie.
  get followers() {
    return this.desk.followers(this.key, this.place);
  }

  // Its middle, in the picture.
  get middle() {
    return this.desk.scene.seen(this.place.metal, laidAt(this.place, this.item.middle));
  }

  // The hand is at a place in the picture now; `loose`: it neither slides nor catches.
  to(at, loose) {
    const { scene } = this.desk;
    const under = scene.on(at, this.away ? null : this.place.metal);
    this.settle(laidSo({ ...this.place, metal: under.metal, turn_deg: this.turn }, this.grip, under.at), loose);
  }

  turnTo(deg, loose) {
    const near = Math.round(deg / CATCH_TURN) * CATCH_TURN;
    const caught = !loose && Math.abs(near - deg) <= CATCH_DEG ? near : Number(deg.toFixed(1));
    this.turn = turn360(allowedTurn(this.item.piece, caught));
  }

  // After turnTo, where the hand has not moved.
  turned(loose) {
    const held = laidAt(this.place, this.grip);
    this.settle(laidSo({ ...this.place, turn_deg: this.turn }, this.grip, held), loose || this.turning);
  }

  settle(aim, loose) {
    const { desk } = this;
    const wish = { metal: aim.metal, x_mm: aim.x_mm, y_mm: aim.y_mm, turn_deg: aim.turn_deg, mirror: aim.mirror };
    const many = this.before && desk.followers(this.key, this.before).length > 0;
    const held = !loose && !many; // of several that go together, none is slid or caught by itself
    const found = this.held.towards(wish, { slide: held, snap: held, reach_mm: CATCH_PX * desk.px() });
    const { metal, x_mm, y_mm, turn_deg, mirror } = found;
    this.place = { piece: this.item.piece.id, copy: this.item.copy, metal, mirror, turn_deg, x_mm, y_mm };
    this.snaps = found.snaps ?? [];
    this.faults = many ? [] : on(this.place, found.faults);
    this.away = false;
    this.draw();
  }

  draw() {
    const { picture, marks } = this.desk;
    picture.lay(this.key, this.place);
    for (const { key, place } of this.followers) picture.lay(key, place);
    if (!this.isDrawn) picture.hold(this.key, true);
    this.isDrawn = true;
    picture.faulty(this.key, this.faults.length > 0);
    picture.handle(this.key, this.turning ? this.place : null);
    marks.caught(this.place.metal, this.snaps);
    marks.faults(this.faults, "held");
  }

  // Where it lies now, for the server.
  get spot() {
    const { metal, mirror, turn_deg, x_mm, y_mm } = this.place;
    return { metal, mirror, turn_deg, x_mm, y_mm };
  }
}
