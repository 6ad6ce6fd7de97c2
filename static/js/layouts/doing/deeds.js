// What can be done with the chosen piece by buttons, keys and fields.

import { allowedTurn } from "../pieces.js";
import { boxOf, laidBox, turn360, turnedAbout } from "../shapes.js";

const FREE_MS = 120; // looking for a free place takes no longer
const CORNERS = 24; // places along each way of a stock piece that are tried

export class Deeds {
  // `desk` has work, choice, items, push, bench, scene, words, turned, may(key), say(words),
  // lay(key, place, told), show().
  constructor(desk) {
    this.desk = desk;
  }

  turnBy(deg) {
    const { choice, push } = this.desk;
    const { item } = choice;
    if (!item) return;
    const turned = (from) => turn360(allowedTurn(item.piece, from + deg, deg));
    if (choice.place) push.by((place) => turnedAbout(place, item.middle, turned(place.turn_deg)), "turned");
    else this.inTray(({ turn_deg, mirror }) => ({ turn_deg: turned(turn_deg), mirror }));
  }

  mirror() {
    const { choice, push } = this.desk;
    const { item } = choice;
    if (!item?.piece.may_mirror) return;
    const flipped = (place) => turn360(allowedTurn(item.piece, -place.turn_deg));
    if (choice.place) push.by((place) => turnedAbout(place, item.middle, flipped(place), !place.mirror), "mirrored");
    else this.inTray(({ turn_deg, mirror }) => ({ turn_deg, mirror: !mirror }));
  }

  // How a piece lies in the tray is remembered until it is laid.
  inTray(change) {
    const { desk } = this;
    const { choice } = desk;
    if (!desk.work.state.may.change) return;
    desk.turned.set(choice.key, change(desk.fresh(choice.item)));
    desk.show();
  }

  toTray() {
    const { desk } = this;
    const { key, item, place } = desk.choice;
    if (!place || !desk.may(key)) return;
    desk.push.cancel();
    desk.lay(key, null, "backInTray");
    desk.say(desk.words.say("backInTray", { piece: item.label }));
  }

  pin() {
    const { desk } = this;
    const { key, item, place } = desk.choice;
    if (!place || !desk.work.state.may.change || !desk.state.urls.pin || desk.isFixed(key)) return;
    desk.settle();
    const on = !desk.work.pinned.has(key);
    desk.work.pin(item, on);
    desk.say(desk.words.say(on ? "pinned" : "unpinned", { piece: item.label }));
  }

  // Where the piece's left and lowest edge come to lie, and its turn; millimetres, degrees.
  moveTo(x, y, turn) {
    const { desk } = this;
    const { key, item, place } = desk.choice;
    if (!item || !desk.may(key)) return;
    const from = place ?? desk.fresh(item);
    const turned = turnedAbout(from, item.middle, allowedTurn(item.piece, turn));
    const [left, low] = desk.corner(item, turned);
    desk.settle();
    desk.lay(key, { ...turned, x_mm: turned.x_mm + x - left, y_mm: turned.y_mm + y - low }, "moved");
  }

  // From the tray to the first place where it fits as it is turned. Where none is found in that time,
  // as on metal with a ragged rim, the server looks on, in every turn, and says so if there is none.
  layIt() {
    const { desk } = this;
    const { key, item, place } = desk.choice;
    if (!item || place || !desk.may(key)) return;
    const held = desk.bench.hold(item.piece.id, item.copy);
    const from = desk.fresh(item);
    const found = this.free(item, from, held);
    if (found) desk.lay(key, { piece: item.piece.id, copy: item.copy, ...found }, "laid");
    else desk.work.send({ to: "place", fields: { do: "place", place: "free", which: `${item.piece.id}|${item.copy}` } });
  }

  free(item, from, held) {
    const end = performance.now() + FREE_MS;
    for (const metal of this.desk.work.state.metal) {
      const box = boxOf(metal.rings.flat(2));
      const [left, low, right, high] = laidBox({ ...from, x_mm: 0, y_mm: 0 }, item.piece.rings);
      const room = [box[2] - box[0] - (right - left), box[3] - box[1] - (high - low)];
      if (room[0] < 0 || room[1] < 0) continue;
      for (let column = 0; column <= CORNERS; column += 1) {
        for (let row = 0; row <= CORNERS; row += 1) {
          if (performance.now() > end) return null;
          const at = { x_mm: box[0] - left + (room[0] * column) / CORNERS, y_mm: box[1] - low + (room[1] * row) / CORNERS };
          const wish = { metal: metal.id, turn_deg: from.turn_deg, mirror: from.mirror, ...at };
          const found = held.towards(wish, { slide: false, snap: true, reach_mm: (room[1] / CORNERS) * 0.75 });
          if (found.faults.length === 0) return found;
        }
      }
    }
    return null;
  }
}
