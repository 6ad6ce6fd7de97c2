// Mouse and finger on the lines: a tap chooses, a pull at a handle moves a point. Beside a finger
// that pulls a point stands a magnified view of what is under it. What moves the picture itself
// is in picture_view.js.

import { fillGlass, showGlass } from "./draw.js";
import { middle } from "./lines.js";
import { STILL_PX } from "../picture_view.js";

const REACH_PX = { mouse: 11, pen: 14, touch: 24 };

export class Hand {
  // `on` has: placing(), line(), tapLine(id), tapNothing(), tapGap(gap), place(at), take(index),
  // drag(base, change), drop(base, change | null).
  constructor(svg, view, glass, on) {
    Object.assign(this, { svg, view, glass, on });
    this.pull = null; // what one pointer is doing
    svg.addEventListener("pointerdown", (event) => this.down(event));
    svg.addEventListener("pointermove", (event) => this.move(event));
    svg.addEventListener("pointerup", (event) => this.up(event));
    svg.addEventListener("pointercancel", (event) => this.lost(event));
    // A finger that pulls something must not scroll the page as well; the pointer's own event
    // comes first, so what it took is known here.
    for (const kind of ["touchstart", "touchmove"]) {
      svg.addEventListener(kind, (event) => this.touched(event), { passive: false });
    }
    // Lines are links for those without this script.
    svg.addEventListener("click", (event) => {
      if (event.target.closest("[data-line]")) event.preventDefault();
    });
    svg.addEventListener("dragstart", (event) => event.preventDefault());
  }

  get holds() {
    return Boolean(this.pull?.grip);
  }

  down(event) {
    if (event.button !== 0 || !event.isPrimary || this.view.isPinched) return;
    this.cancel(); // a pointer that was let go of where nobody heard it
    const at = this.view.at(event.clientX, event.clientY);
    const grip = this.on.placing() ? null : this.gripNear(at, REACH_PX[event.pointerType] ?? 14);
    this.pull = {
      pointer: event.pointerId,
      kind: event.pointerType,
      from: [event.clientX, event.clientY],
      target: event.target,
      moved: false,
      at,
      grip,
    };
    if (grip) {
      Object.assign(this.pull, this.on.take(grip.index));
      if (event.pointerType !== "mouse") {
        const part = (name) => this.svg.querySelector(`[data-${name}]`);
        fillGlass(this.glass, part("sheet"), part("lines"));
      }
      this.svg.setPointerCapture(event.pointerId);
      event.preventDefault();
      this.svg.focus({ preventScroll: true });
    }
  }

  touched(event) {
    const busy = this.pull?.grip || this.view.isPinched || this.on.placing() || !this.view.isWhole;
    if (busy && event.cancelable) event.preventDefault();
  }

  // The handle of the chosen line nearest to a place, within so many pixels.
  gripNear(at, reach) {
    const line = this.on.line();
    if (!line) return null;
    const places = line.round ? [middle(line)] : line.points;
    let best = null;
    let least = reach / this.view.scale;
    places.forEach((place, index) => {
      const far = Math.hypot(place[0] - at[0], place[1] - at[1]);
      if (far <= least) {
        least = far;
        best = { index: line.round ? -1 : index, place, line: line.id };
      }
    });
    return best;
  }

  move(event) {
    const pull = this.pull;
    if (!pull || pull.pointer !== event.pointerId) return;
    const way = Math.hypot(event.clientX - pull.from[0], event.clientY - pull.from[1]);
    if (!pull.moved && way < STILL_PX) return;
    pull.moved = true;
    if (pull.grip) this.drag(event, pull);
  }

  drag(event, pull) {
    const now = this.view.at(event.clientX, event.clientY);
    const { index, place, line } = pull.grip;
    const by = [now[0] - pull.at[0], now[1] - pull.at[1]].map((value) => Number(value.toFixed(3)));
    const to = [place[0] + by[0], place[1] + by[1]];
    pull.change =
      index < 0
        ? { do: "move-line", line, by }
        : { do: "move-point", line, index, to, reach_mm: pull.reach(Math.hypot(...by)) };
    this.on.drag(pull.base, pull.change);
    if (pull.kind !== "mouse") {
      const frame = this.svg.getBoundingClientRect();
      const toTheRight = event.clientX < frame.left + frame.width / 2;
      showGlass(this.glass, this.on.line(), to, this.view.now.width, toTheRight);
    }
  }

  up(event) {
    const pull = this.pull;
    if (!pull || pull.pointer !== event.pointerId) return;
    this.rest();
    if (pull.grip) this.on.drop(pull.base, pull.moved ? pull.change : null);
    else if (!pull.moved) this.tap(pull);
  }

  tap(pull) {
    this.svg.focus({ preventScroll: true });
    if (this.on.placing()) {
      this.on.place(pull.at.map((value) => Number(value.toFixed(3))));
      return;
    }
    const gap = pull.target.closest("[data-gap]");
    const line = pull.target.closest("[data-line]");
    if (pull.target.closest("[data-points] a")) return;
    if (gap) this.on.tapGap(gap.dataset.gap);
    else if (line) this.on.tapLine(line.dataset.line);
    else this.on.tapNothing();
  }

  lost(event) {
    if (this.pull?.pointer === event.pointerId) this.cancel();
  }

  // Puts back what is being pulled; whether there was anything.
  cancel() {
    const pull = this.pull;
    this.rest();
    if (!pull?.grip) return false;
    this.on.drop(pull.base, null);
    return true;
  }

  rest() {
    this.pull = null;
    this.glass.setAttribute("hidden", "");
  }
}
