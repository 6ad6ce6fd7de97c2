// Mouse, finger and pen on the pieces: a tap chooses, a pull moves, the handle or a second finger
// turns. What moves the picture itself is in picture_view.js.

import { pieceAt } from "./near.js";
import { Pull } from "./pull.js";
import { STILL_PX } from "../../picture_view.js";

const REACH_PX = { mouse: 2, pen: 6, touch: 14 };

export class Hand {
  // `desk` has root, svg, frame, view, tray, carry, work, choice, may(key), isLoose(), drop(pull),
  // undrop(pull).
  constructor(desk) {
    this.desk = desk;
    this.down = null; // a pointer that came down on a piece
    this.pull = null; // the piece in hand, once that pointer has moved
    this.frame = 0;
    const { svg, root, tray } = desk;
    svg.addEventListener("pointerdown", (event) => this.onPicture(event));
    tray.list.addEventListener("pointerdown", (event) => this.onTray(event));
    root.addEventListener("pointermove", (event) => this.moved(event));
    root.addEventListener("pointerup", (event) => this.up(event));
    root.addEventListener("pointercancel", (event) => this.lost(event));
    // A finger that pulls a piece must not scroll the page as well.
    for (const kind of ["touchstart", "touchmove"]) {
      svg.addEventListener(kind, (event) => this.touched(event), { passive: false });
      tray.list.addEventListener(kind, (event) => this.pull && event.cancelable && event.preventDefault(), { passive: false });
    }
    root.addEventListener("dragstart", (event) => event.preventDefault());
  }

  get holds() {
    return Boolean(this.down?.key);
  }

  // Whether a second finger turns what the first one holds, rather than coming nearer.
  get isTurning() {
    return Boolean(this.down?.second);
  }

  onPicture(event) {
    const { desk } = this;
    if (event.button !== 0) return;
    if (!event.isPrimary) {
      this.second(event);
      return;
    }
    this.cancel(); // a pointer that was let go of where nobody heard it
    const knob = event.target.closest("[data-handle]");
    const over = event.target.closest("[data-piece]");
    if (desk.parting && !knob && (desk.parting.drawing || !over) && desk.parting.takes(event)) {
      desk.svg.setPointerCapture(event.pointerId);
      event.preventDefault();
      desk.svg.focus({ preventScroll: true });
      return;
    }
    const key = knob ? desk.choice.key : this.meant(event);
    this.take(event, key, Boolean(knob));
    if (!key) return;
    event.preventDefault();
    desk.svg.focus({ preventScroll: true });
  }

  meant({ target, clientX, clientY, pointerType }) {
    const { desk } = this;
    const piece = target.closest("[data-piece]")?.dataset.piece;
    return piece ?? pieceAt(desk, desk.view.at(clientX, clientY), REACH_PX[pointerType] * desk.px());
  }

  onTray(event) {
    const key = event.target.closest("[data-tray]")?.dataset.tray;
    if (event.button !== 0 || !event.isPrimary || !key) return;
    this.cancel();
    this.take(event, key, false);
    this.down.fromTray = true;
  }

  take(event, key, turning) {
    const here = [event.clientX, event.clientY];
    const known = Boolean(key) && key === this.desk.choice.key;
    this.down = { pointer: event.pointerId, kind: event.pointerType, from: here, here, key, turning, known, fromTray: false };
    if (key && this.desk.may(key)) setTimeout(() => this.ready(key));
  }

  // What lies around a piece is gathered while the hand has not moved yet.
  ready(key) {
    const { desk } = this;
    const item = desk.items.get(key);
    const place = desk.work.placed(key);
    if (this.down?.key !== key || this.pull || desk.push.now) return;
    const held = desk.bench.hold(item.piece.id, item.copy);
    if (place) held.towards(place, { slide: true, snap: true, reach_mm: desk.px() });
  }

  second(event) {
    const { down } = this;
    if (!down?.key || down.second || !(this.pull || down.known) || !this.desk.may(down.key)) return;
    if (!this.pull) this.begin();
    const there = [event.clientX, event.clientY];
    down.second = { pointer: event.pointerId, here: there, angle: angle(down.here, there), turn: this.pull.turn };
    this.desk.svg.setPointerCapture(event.pointerId);
  }

  touched(event) {
    const { view } = this.desk;
    if ((this.holds || this.desk.parting?.holds || view.isPinched || !view.isWhole) && event.cancelable) event.preventDefault();
  }

  moved(event) {
    const { down } = this;
    if (this.desk.parting?.moved(event)) return;
    const finger = [down, down?.second].find((one) => one?.pointer === event.pointerId);
    if (!finger?.pointer) return;
    finger.here = [event.clientX, event.clientY];
    if (!this.pull && !this.begins()) return;
    this.loose = event.altKey;
    this.frame ||= requestAnimationFrame(() => this.follow());
  }

  // Whether the pointer has gone far enough to take the piece along.
  begins() {
    const { down, desk } = this;
    const [dx, dy] = [down.here[0] - down.from[0], down.here[1] - down.from[1]];
    if (Math.hypot(dx, dy) < STILL_PX) return false;
    // A finger that goes along the tray moves the tray.
    if (down.fromTray && down.kind === "touch" && desk.tray.isUpright === Math.abs(dy) > Math.abs(dx)) return false;
    if (!down.key || !desk.may(down.key)) return false;
    this.begin();
    return true;
  }

  begin() {
    const { desk, down } = this;
    desk.choice.take(down.key);
    const from = down.fromTray ? null : desk.view.at(...down.from);
    this.pull = new Pull(desk, down.key, from, down.turning);
    (down.fromTray ? desk.tray.list : desk.svg).setPointerCapture(down.pointer);
    desk.root.classList.add("is-holding");
    if (down.turning) this.angle = this.toMiddle() - this.pull.turn;
  }

  toMiddle() {
    const [x, y] = this.pull.middle;
    const [px, py] = this.desk.view.at(...this.down.here);
    return (Math.atan2(py - y, px - x) * 180) / Math.PI;
  }

  // Once for each picture that the screen shows.
  follow() {
    this.frame = 0;
    const { desk, down, pull } = this;
    if (!pull) return;
    const loose = this.loose || desk.isLoose();
    if (down.turning) {
      pull.turnTo(this.toMiddle() - this.angle, loose);
      pull.turned(loose);
      return;
    }
    if (down.second) {
      const { here, angle: from, turn } = down.second;
      pull.turnTo(turn - (angle(down.here, here) - from), loose);
    }
    const where = this.where(down.here);
    desk.tray.welcome(where === "tray");
    if (where === "picture") {
      desk.carry.hide();
      desk.picture.hide(pull.key, false);
      pull.to(desk.view.at(...down.here), loose);
    } else {
      pull.away = true;
      desk.picture.hide(pull.key, true);
      desk.marks.caught("", []);
      desk.marks.faults([], "held");
      desk.carry.show(pull, ...down.here, desk.view.scale);
    }
  }

  where([x, y]) {
    const inside = (element) => {
      const { left, right, top, bottom } = element.getBoundingClientRect();
      return x >= left && x <= right && y >= top && y <= bottom;
    };
    if (inside(this.desk.frame)) return "picture";
    return inside(this.desk.tray.box) ? "tray" : "";
  }

  up(event) {
    const { down, desk } = this;
    if (desk.parting?.up(event)) return;
    if (down?.second?.pointer === event.pointerId) {
      down.second = null;
      return;
    }
    if (down?.pointer !== event.pointerId) return;
    if (!this.pull) {
      this.rest();
      this.tap(down);
      return;
    }
    if (this.frame) {
      cancelAnimationFrame(this.frame);
      this.follow();
    }
    const pull = this.pull;
    const where = down.turning ? "picture" : this.where(down.here);
    this.rest();
    desk.drop(pull, where);
  }

  tap(down) {
    const { choice } = this.desk;
    if (down.turning || down.fromTray) return; // a tray's button hears the click itself
    const part = down.key ? null : this.desk.parting?.partUnder(down.here);
    if (part) this.desk.parting.choose("part", part);
    else choice.choose(down.key ?? null);
  }

  lost(event) {
    if (this.desk.parting?.down?.pointer === event.pointerId) this.desk.parting.cancel();
    if (this.down?.pointer === event.pointerId) this.cancel();
  }

  // Puts back what is in hand; whether there was anything.
  cancel() {
    const { pull } = this;
    this.rest();
    if (!pull) return false;
    this.desk.undrop(pull);
    return true;
  }

  rest() {
    const { desk } = this;
    if (this.frame) cancelAnimationFrame(this.frame);
    this.frame = 0;
    this.down = null;
    if (this.pull) {
      desk.picture.hold(this.pull.key, false);
      desk.picture.hide(this.pull.key, false);
    }
    this.pull = null;
    desk.carry.hide();
    desk.tray.welcome(false);
    desk.marks.caught("", []);
    desk.marks.faults([], "held");
    desk.root.classList.remove("is-holding");
  }
}

// Of the line between two fingers, on the screen.
const angle = (one, two) => (Math.atan2(two[1] - one[1], two[0] - one[0]) * 180) / Math.PI;
