// Which line is chosen, and which of its points is in hand.

import { middle } from "./lines.js";

export class Choice {
  // `desk` has work, panel, settle(), show(), say(words), reveal(place).
  constructor(desk, id) {
    this.desk = desk;
    this.id = id;
    this.point = -1; // -1 for none
    this.holdsCircle = false; // by its middle, as a point is held
  }

  get line() {
    return this.desk.work.lines.get(this.id);
  }

  get hasInHand() {
    return this.point >= 0 || Boolean(this.holdsCircle && this.line?.round);
  }

  // After the lines have changed.
  check() {
    const { lines } = this.desk.work;
    if (!lines.has(this.id)) this.id = null;
    const here = this.line;
    if (here && !here.round && this.point >= here.points.length) this.point = here.points.length - 1;
  }

  choose(id, at = -1) {
    const { desk } = this;
    desk.settle();
    this.id = desk.work.lines.has(id) ? id : null;
    this.point = at;
    desk.show();
    const words = desk.work.state.labels[this.id];
    if (this.id) desk.say(`Line ${this.id}: ${words?.now ?? ""}, ${words?.looks ?? ""}.`);
  }

  next(step) {
    const ids = [...this.desk.work.lines.keys()];
    if (!ids.length) return;
    const now = ids.indexOf(this.id);
    const next = now < 0 ? (step > 0 ? 0 : ids.length - 1) : (now + step + ids.length) % ids.length;
    this.choose(ids[next]);
    this.desk.reveal(this.line.closed ? middle(this.line) : this.line.points[0]);
  }

  hold(index) {
    const { desk } = this;
    if (!this.line) return;
    desk.settle();
    const here = this.line;
    const count = here.points.length;
    this.point = here.round ? -1 : ((index % count) + count) % count;
    desk.show();
    const at = here.round ? middle(here) : here.points[this.point];
    desk.reveal(at);
    const words = `${desk.panel.shown(at[0])} across, ${desk.panel.shown(at[1])} up`;
    desk.say(here.round ? `Middle of the circle: ${words}.` : `Point ${this.point + 1} of ${count}: ${words}.`);
  }

  holdNext(step) {
    this.hold(Math.max(this.point, 0) + (this.point < 0 ? 0 : step));
  }

  // Where the point in hand lies, or the middle of the line; null when none is chosen.
  at() {
    const here = this.line;
    if (!here) return null;
    return here.round || this.point < 0 ? middle(here) : here.points[this.point];
  }

  // First the point, then the line.
  letGo() {
    if (this.point < 0 && !this.holdsCircle) {
      this.choose(null);
      return;
    }
    this.holdsCircle = false;
    this.desk.settle();
    this.point = -1;
    this.desk.show();
    this.desk.say(`Line ${this.id} is chosen.`);
  }
}
