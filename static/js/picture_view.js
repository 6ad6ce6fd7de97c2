/**
 * Looking at a drawing more closely: which part of an <svg> is seen, and where on it a pointer is.
 *
 * Places and lengths are millimetres of the drawing, y upwards; the picture's own viewBox has them
 * with y downwards. Pointers are in pixels of the window, as events have them.
 *
 * Done here: buttons `data-zoom="in|out|whole"`, shut where they lead no further; the keys + − 0
 * with the picture in focus; the wheel, with Ctrl, or without once somebody has come nearer or the
 * picture has the focus; paper that is pulled; two fingers. A finger on the whole picture scrolls
 * the page. The picture gets the classes is-near (less than all is seen) and is-sliding.
 */

const NEAREST_MM = 1.5; // no nearer than this much across the picture
const STEP = 1.5;
const WHEEL_STEP = 1.25;
const LEAST_SPREAD_PX = 20; // fingers closer together jump about
const ROOM = 0.6; // of what may be seen beyond the whole, on each side of it

export const STILL_PX = 5; // a pointer that moved less was a tap

const held = (value, least, most) => Math.min(Math.max(value, least), most);

export class PictureView {
  /**
   * @param {Element} stage Holds picture and buttons, and stays while the picture may be replaced.
   * @param {object} page What the page supplies:
   * @param {() => SVGSVGElement | null} page.picture The picture now. Call renew() for another one.
   * @param {number} [page.farthest] How much may be seen, in times the whole drawing; 1 if not said.
   * @param {() => [number, number] | null} [page.anchor] What buttons and keys come nearer to, if
   *   it is in sight; else it is the middle.
   * @param {(down: PointerEvent) => boolean} [page.taken] Whether a pointer that came down holds
   *   something of the page's own, so that it does not pull the paper.
   * @param {(down: PointerEvent) => boolean} [page.joined] Whether a second finger takes part in
   *   what the first one holds; then it comes no nearer.
   * @param {() => void} [page.pinching] A second finger came: let go of what the first one holds.
   * @param {() => void} [page.changed] Another part is seen, or another picture: `share`, `scale`.
   */
  constructor(stage, page) {
    this.stage = stage;
    this.page = { farthest: 1, ...page };
    this.whole = null; // { x, y, width, height } as a viewBox has them: the drawing,
    this.now = null; // and the part that is seen
    this.svg = null;
    this.fingers = new Map(); // pointer: [x, y]
    this.slide = null; // the pointer that pulls the paper
    this.pinch = null; // two fingers: their middle, and how far apart
    this.take();
    this.showButtons();
    stage.addEventListener("click", (event) => this.pressed(event));
    stage.addEventListener("keydown", (event) => this.typed(event));
    stage.addEventListener("wheel", (event) => this.wheel(event), { passive: false });
    stage.addEventListener("pointerdown", (event) => this.down(event));
    stage.addEventListener("pointermove", (event) => this.move(event));
    // Not every browser heeds touch-action inside a picture.
    stage.addEventListener("touchmove", (event) => this.touched(event), { passive: false });
    for (const end of ["pointerup", "pointercancel"]) addEventListener(end, (event) => this.up(event));
  }

  /** Screen pixels for a millimetre. */
  get scale() {
    return this.svg?.getScreenCTM()?.a || 1;
  }

  /** How much of the drawing's width is seen: 1 for the whole, less when one is nearer. */
  get share() {
    return this.now.width / this.whole.width;
  }

  /** Nobody has come nearer; more than the whole may be seen. */
  get isWhole() {
    return this.share >= 0.999;
  }

  /** Two fingers are on the picture, or were and one of them is still. */
  get isPinched() {
    return this.pinch !== null;
  }

  /** A place on the screen in millimetres, y upwards. */
  at(clientX, clientY) {
    const place = new DOMPoint(clientX, clientY).matrixTransform(this.svg.getScreenCTM().inverse());
    return [place.x, -place.y];
  }

  /** Puts what was seen on the picture as it is now; another one is shown as near as the last. */
  renew() {
    this.take();
    this.show(this.now);
  }

  /** `factor` above 1 comes nearer; `at` (millimetres, y upwards) stays where it is. */
  zoom(factor, at = this.anchor()) {
    const { x, y, width, height } = this.now;
    const nearest = Math.min(NEAREST_MM, this.whole.width / 4);
    const wide = held(width / factor, nearest, this.whole.width * this.page.farthest);
    const by = wide / width;
    const [across, down] = at ? [at[0], -at[1]] : [x + width / 2, y + height / 2];
    this.show(this.onPaper({ x: across - (across - x) * by, y: down - (down - y) * by, width: wide, height: height * by }));
  }

  /** Moves the picture by so many millimetres, y upwards. */
  pan(dx, dy) {
    this.show(this.onPaper({ ...this.now, x: this.now.x - dx, y: this.now.y + dy }));
  }

  /** Shows the whole drawing. */
  all() {
    this.show({ ...this.whole });
  }

  /** Shows this much, [left, low, right, high] with y upwards, and what else the picture has room for. */
  frame([left, low, right, high]) {
    const by = Math.max((right - left) / this.whole.width, (high - low) / this.whole.height);
    const [width, height] = [this.whole.width * by, this.whole.height * by];
    this.show({ x: (left + right - width) / 2, y: -(low + high + height) / 2, width, height });
  }

  /** Brings a place (y upwards) into the picture when it lies outside or near its rim. */
  reveal([x, y]) {
    const { x: left, y: top, width, height } = this.now;
    const [rx, ry] = [(x - left) / width, (-y - top) / height];
    if (rx > 0.05 && rx < 0.95 && ry > 0.05 && ry < 0.95) return;
    this.show({ x: x - width / 2, y: -y - height / 2, width, height });
  }

  // ---- the part that is seen, as a viewBox

  take() {
    const svg = this.page.picture();
    if (svg === this.svg && this.now) return;
    const share = this.now ? this.share : 1; // as near as before
    const { x, y, width, height } = svg?.viewBox.baseVal ?? this.whole ?? { x: 0, y: 0, width: 1, height: 1 };
    const before = this.now ?? { x, y, width, height };
    this.svg = svg;
    this.whole = { x, y, width, height };
    this.now = { ...this.whole };
    const size = { width: width * share, height: height * share };
    const [across, down] = [before.x + before.width / 2, before.y + before.height / 2];
    this.now = this.onPaper({ x: across - size.width / 2, y: down - size.height / 2, ...size });
  }

  show(box) {
    this.now = box;
    if (!this.svg) return;
    this.svg.setAttribute("viewBox", `${box.x} ${box.y} ${box.width} ${box.height}`);
    this.svg.classList.toggle("is-near", !this.isWhole);
    this.showButtons();
    this.page.changed?.();
  }

  // Not further beside the drawing than one may look, or than one looks already.
  onPaper(box) {
    const { whole, now } = this;
    const room = ROOM * (this.page.farthest - 1);
    const along = (from, size) =>
      held(
        box[from],
        Math.min(whole[from] - room * whole[size], now[from]),
        Math.max(whole[from] + (1 + room) * whole[size], now[from] + now[size]) - box[size],
      );
    return { ...box, x: along("x", "width"), y: along("y", "height") };
  }

  anchor() {
    const at = this.page.anchor?.();
    const { x, y, width, height } = this.now;
    const seen = at && at[0] >= x && at[0] <= x + width && -at[1] >= y && -at[1] <= y + height;
    return seen ? at : null;
  }

  showButtons() {
    const { now, whole } = this;
    const same = (from) => Math.abs(now[from] - whole[from]) < 0.001 * whole.width;
    const shut = {
      in: now.width <= Math.min(NEAREST_MM, whole.width / 4) * 1.001,
      out: now.width >= whole.width * this.page.farthest * 0.999,
      whole: same("x") && same("y") && same("width"),
    };
    for (const button of this.stage.querySelectorAll("[data-zoom]")) button.disabled = shut[button.dataset.zoom];
  }

  // ---- buttons, keys and wheel

  pressed(event) {
    const button = event.target.closest("[data-zoom]");
    if (!button) return;
    const focused = document.activeElement === button;
    if (button.dataset.zoom === "whole") this.all();
    else this.zoom(button.dataset.zoom === "in" ? STEP : 1 / STEP);
    if (focused && button.disabled) this.stage.querySelector("[data-zoom]:enabled")?.focus();
  }

  typed(event) {
    if (!this.svg?.contains(event.target) || event.ctrlKey || event.metaKey || event.altKey) return;
    if (event.key === "+" || event.key === "=") this.zoom(STEP);
    else if (event.key === "-") this.zoom(1 / STEP);
    else if (event.key === "0") this.all();
    else return;
    event.preventDefault();
  }

  wheel(event) {
    if (!this.svg?.contains(event.target)) return;
    if (!event.ctrlKey && this.isWhole && document.activeElement !== this.svg) return;
    event.preventDefault();
    const step = held(event.deltaY / 100, -1, 1);
    this.zoom(WHEEL_STEP ** -step, this.at(event.clientX, event.clientY));
  }

  // ---- mouse and fingers

  down(event) {
    if (event.button !== 0 || !this.svg?.contains(event.target)) return;
    if (event.isPrimary) {
      this.fingers.clear(); // of a pointer that was let go of where nobody heard it
      this.pinch = null;
    }
    this.fingers.set(event.pointerId, [event.clientX, event.clientY]);
    if (this.fingers.size === 2) {
      if (this.page.joined?.(event)) return;
      this.rest();
      this.pinch = this.spread();
      this.page.pinching?.();
    } else if (this.fingers.size === 1 && !this.page.taken?.(event)) {
      const from = [event.clientX, event.clientY];
      this.slide = { pointer: event.pointerId, from, last: from, moved: false };
    }
  }

  move(event) {
    if (!this.fingers.has(event.pointerId)) return;
    const here = [event.clientX, event.clientY];
    this.fingers.set(event.pointerId, here);
    const { slide } = this;
    if (this.pinch) this.pinched();
    else if (slide?.pointer === event.pointerId) {
      if (!slide.moved && Math.hypot(here[0] - slide.from[0], here[1] - slide.from[1]) < STILL_PX) return;
      // A finger on the whole drawing scrolls the page; the browser then takes the pointer away.
      if (event.pointerType === "touch" && this.isWhole) return;
      slide.moved = true;
      this.svg.setPointerCapture(event.pointerId);
      this.svg.classList.add("is-sliding");
      this.pan((here[0] - slide.last[0]) / this.scale, -(here[1] - slide.last[1]) / this.scale);
      slide.last = here;
    }
  }

  up(event) {
    this.fingers.delete(event.pointerId);
    if (this.fingers.size === 0) this.pinch = null;
    if (this.slide?.pointer === event.pointerId) this.rest();
  }

  rest() {
    this.slide = null;
    this.svg?.classList.remove("is-sliding");
  }

  spread() {
    const [a, b] = [...this.fingers.values()];
    const far = Math.max(LEAST_SPREAD_PX, Math.hypot(a[0] - b[0], a[1] - b[1]));
    return { middle: [(a[0] + b[0]) / 2, (a[1] + b[1]) / 2], far };
  }

  pinched() {
    if (this.fingers.size !== 2) return;
    const before = this.pinch;
    const now = this.spread();
    this.pan((now.middle[0] - before.middle[0]) / this.scale, -(now.middle[1] - before.middle[1]) / this.scale);
    this.zoom(now.far / before.far, this.at(...now.middle));
    this.pinch = now;
  }

  touched(event) {
    if (!this.svg?.contains(event.target) || !event.cancelable) return;
    if (this.pinch || !this.isWhole) event.preventDefault();
  }
}
