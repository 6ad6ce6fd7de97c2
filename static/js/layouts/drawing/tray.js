// The tray: pieces that lie nowhere yet, drawn at one scale, the picture's where there is room.
// Each is a button; it is also the place to which pieces are pulled back.

import { laidBox, transform } from "../shapes.js";
import { made } from "./svg.js";

const HIGH_PX = 72;
const WIDE_PX = 108;
const LEAST_PX = 10;

export class Tray {
  // `desk` has root, items, work, words, choice, fresh(item), scale().
  constructor(desk) {
    this.desk = desk;
    this.box = desk.root.querySelector("[data-tray-box]");
    this.list = this.box.querySelector("[data-tray-list]");
    this.count = this.box.querySelector("[data-tray-count]");
    this.empty = this.box.querySelector("[data-tray-empty]");
    this.shown = null;
    this.list.addEventListener("scroll", () => this.more(), { passive: true });
    new ResizeObserver(() => this.more()).observe(this.list);
    this.list.addEventListener("click", (event) => {
      const key = event.target.closest("[data-tray]")?.dataset.tray;
      if (key) desk.choice.choose(key);
    });
  }

  get keys() {
    return [...this.desk.items.keys()].filter((key) => !this.desk.work.placed(key));
  }

  // It stands beside the picture, and is moved up and down; else it lies below it.
  get isUpright() {
    return getComputedStyle(this.list).flexDirection === "column";
  }

  // A piece is held over it.
  welcome(on) {
    this.box.classList.toggle("is-welcome", on);
  }

  show() {
    const { keys, desk } = this;
    const now = JSON.stringify([keys, keys.map((key) => desk.fresh(desk.items.get(key)).turn_deg), desk.turned]);
    if (now !== this.shown) {
      const focused = document.activeElement?.dataset?.tray;
      this.shown = now;
      this.fill(keys);
      if (focused) (this.button(focused) ?? desk.svg).focus({ preventScroll: true });
    }
    for (const button of this.list.querySelectorAll("[data-tray]")) {
      button.setAttribute("aria-pressed", String(button.dataset.tray === desk.choice.key));
    }
  }

  button(key) {
    return this.list.querySelector(`[data-tray="${CSS.escape(key)}"]`);
  }

  fill(keys) {
    const { desk } = this;
    const boxes = new Map(keys.map((key) => [key, this.boxOf(key)]));
    const wide = Math.max(1, ...[...boxes.values()].map(([left, , right]) => right - left));
    const high = Math.max(1, ...[...boxes.values()].map(([, low, , top]) => top - low));
    const scale = Math.min(desk.scale(), WIDE_PX / wide, HIGH_PX / high);
    this.list.replaceChildren(...keys.map((key) => this.row(key, boxes.get(key), scale)));
    this.count.textContent = keys.length;
    this.empty.hidden = keys.length > 0;
    this.list.hidden = keys.length === 0;
    this.more();
  }

  // The end fades where pieces follow that are out of sight.
  more() {
    const { scrollLeft, scrollTop, scrollWidth, scrollHeight, clientWidth, clientHeight } = this.list;
    const rest = Math.max(scrollWidth - clientWidth - scrollLeft, scrollHeight - clientHeight - scrollTop);
    this.list.classList.toggle("is-more", rest > LEAST_PX);
  }

  boxOf(key) {
    const item = this.desk.items.get(key);
    return laidBox({ ...this.desk.fresh(item), x_mm: 0, y_mm: 0 }, item.piece.rings);
  }

  row(key, [left, low, right, high], scale) {
    const { desk } = this;
    const item = desk.items.get(key);
    const place = { ...desk.fresh(item), x_mm: 0, y_mm: 0 };
    const [wide, tall] = [right - left, high - low].map((mm) => Math.max(LEAST_PX, mm * scale));
    const shape = made("path", { class: "laying-shape", d: item.path, transform: transform(place, [0, 0]) });
    const picture = made(
      "svg",
      { class: "drawing laying-tray-shape", viewBox: `${left} ${-high} ${right - left} ${high - low}`, width: wide, height: tall, "aria-hidden": "true" },
      shape,
    );
    const button = document.createElement("button");
    Object.assign(button, { type: "button", className: "laying-tray-piece" });
    button.dataset.tray = key;
    button.setAttribute("aria-label", desk.words.say("inTray", { piece: item.label, name: item.name }));
    const name = document.createElement("span");
    name.textContent = item.label;
    button.append(picture, name);
    const row = document.createElement("li");
    row.append(button);
    return row;
  }
}
