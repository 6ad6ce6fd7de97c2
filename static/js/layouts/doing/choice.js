// Which piece is chosen: on the metal or in the tray.

import { laidAt } from "../shapes.js";

export class Choice {
  // `desk` has items, work, scene, picture, words, settle(), show(), say(words), reveal(at).
  constructor(desk) {
    this.desk = desk;
    this.key = null;
  }

  get item() {
    return this.desk.items.get(this.key) ?? null;
  }

  get place() {
    return this.key ? this.desk.work.placed(this.key) : null;
  }

  // In the picture; null while it lies in the tray.
  at() {
    const { place } = this;
    return place && this.desk.scene.seen(place.metal, laidAt(place, this.item.middle));
  }

  set(key) {
    this.desk.settle();
    this.key = this.desk.items.has(key) ? key : null;
    if (this.key && this.desk.parting) this.desk.parting.chosen.kind = null;
    this.desk.show();
  }

  // As `set`, by a hand that goes on at once: the picture shows it, all else when it comes to rest.
  take(key) {
    this.desk.settle();
    this.key = key;
    this.desk.picture.choose(key);
  }

  choose(key) {
    if (key === this.key) return;
    this.set(key);
    if (this.key) this.desk.say(this.told());
  }

  next(step) {
    const keys = [...this.desk.items.keys()];
    const now = keys.indexOf(this.key);
    const next = now < 0 ? (step > 0 ? 0 : keys.length - 1) : (now + step + keys.length) % keys.length;
    this.choose(keys[next]);
    const at = this.at();
    if (at) this.desk.reveal(at);
    else this.desk.tray.button(this.key)?.scrollIntoView({ block: "nearest", inline: "center" });
  }

  told() {
    const { desk, item, place } = this;
    if (!place) return desk.words.say("chosenInTray", { piece: item.label, name: item.name });
    const [x, y] = desk.corner(item, place).map((mm) => desk.words.length(mm));
    const metal = desk.metalName(place.metal);
    return desk.words.say("chosen", { piece: item.label, name: item.name, metal, x, y, turn: desk.words.degrees(place.turn_deg) });
  }
}
