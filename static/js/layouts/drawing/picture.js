// Draws the stock pieces and the pieces that lie on them. A piece keeps its element as long as it
// lies anywhere: while it is pulled about, nothing but its `transform` changes.

import { laidAt, laidBox, transform, upright } from "../shapes.js";
import { line, made, sized } from "./svg.js";

const LETTER_PX = 7.2; // of a name, about
const PIN = "M-4-9h8l-2 4v4l4 4H1l-1 7-1-7h-5l4-4v-4z";
const TURN = "M-7.5 3.5A8 8 0 1 1 -2 7.7M-7.5 3.5l-3.6-4.6M-7.5 3.5l4.4-3";
const SIDES = [[0, 1], [1, 0], [0, -1], [-1, 0]];
const STEM_PX = 34;
const COVER = { x: -5000, y: -5000, width: 10000, height: 10000 }; // of any table, as far as one may look

export class Picture {
  // `items` are the pieces (pieces.js) by key.
  constructor(svg, scene, items, words) {
    Object.assign(this, { svg, scene, items, words });
    this.drawn = new Map();
    this.parts = new Map();
    this.px = 0;
    for (const plain of svg.querySelectorAll("[data-plain]")) plain.remove(); // the server's drawing
    svg.setAttribute("viewBox", scene.viewBox);
    svg.append(made("rect", { class: "laying-cover", ...COVER }));
  }

  part(name) {
    if (!this.parts.has(name)) this.parts.set(name, this.svg.querySelector(`[data-${name}]`));
    return this.parts.get(name);
  }

  // After one has come nearer; `px` are the millimetres of a pixel.
  sizes(px) {
    if (Math.abs(px - this.px) < 1e-9) return;
    this.px = px;
    this.svg.style.setProperty("--px", px.toFixed(5));
  }

  metal() {
    this.part("metal").replaceChildren(...this.scene.metal.map((one) => this.stockPiece(one)));
  }

  stockPiece(one) {
    const [dx, dy] = this.scene.offset(one.id);
    const path = one.rings.map((rings) => rings.map(outline).join("")).join("");
    const edges = [
      ...one.clean.map((ends) => line("laying-clean", ends)),
      ...one.rough.map((ends) => line("laying-rough", ends)),
    ];
    return made(
      "g",
      { transform: `translate(${dx} ${-dy})`, "data-stock": one.id },
      made("path", { class: "d-metal", d: path, "fill-rule": "evenodd" }),
      ...edges,
      ...this.labels(one),
    );
  }

  labels(one) {
    const [left, low, right, high] = this.scene.boxes.get(one.id);
    const size = this.words.size(right - left, high - low);
    const most = Math.max(6, Math.floor((right - left) / this.px / LETTER_PX));
    const name = one.name.length > most ? `${one.name.slice(0, most - 1)}…` : one.name;
    const texts = sized(
      [left, high],
      made("text", { class: "laying-stock-name", y: -25 }, name),
      made("text", { class: "laying-stock-size", y: -9 }, size),
    );
    if (one.grain_deg === null || one.grain_deg === undefined) return [texts];
    const arrow = made(
      "g",
      { transform: `translate(-16 -18) rotate(${-one.grain_deg})` },
      made("title", {}, this.words.say("grain")),
      made("path", { class: "d-grain", d: "M-14 0H14M9-4L14 0 9 4" }),
    );
    return [texts, sized([right, high], arrow)];
  }

  // `laid` by key; `looks` says of a key: { chosen, pinned, faulty }.
  pieces(laid, looks) {
    for (const [key, one] of this.drawn) {
      if (laid.has(key)) continue;
      one.box.remove();
      this.drawn.delete(key);
    }
    for (const [key, place] of laid) {
      if (!this.items.has(key)) continue;
      this.lay(key, place);
      const { chosen, pinned, faulty } = looks(key);
      const { classList } = this.drawn.get(key).box;
      classList.toggle("is-chosen", chosen);
      classList.toggle("is-pinned", pinned);
      classList.toggle("is-faulty", faulty);
    }
  }

  // One piece where it lies now.
  lay(key, place) {
    const one = this.drawn.get(key) ?? this.make(key);
    one.box.setAttribute("transform", transform(place, this.scene.offset(place.metal)));
    const way = `${place.turn_deg} ${place.mirror}`;
    if (one.way === way) return;
    one.way = way;
    one.name.setAttribute("transform", upright(place, this.items.get(key).spot));
  }

  make(key) {
    const item = this.items.get(key);
    const inside = made(
      "g",
      { class: "laying-sized" },
      made("text", { class: "laying-letter" }, item.label),
      made("path", { class: "laying-pin", d: PIN, transform: "translate(0 -16) scale(0.85)" }),
    );
    inside.style.setProperty("--room", `${item.room.toFixed(3)}px`);
    const name = made("g", {}, inside);
    const box = made(
      "g",
      { class: "laying-piece", "data-piece": key, role: "img", "aria-label": item.name },
      made("path", { class: "laying-shape", d: item.path }),
      name,
    );
    this.part("pieces").append(box);
    const one = { box, name, way: "" };
    this.drawn.set(key, one);
    return one;
  }

  // On top of the others, and marked as held.
  hold(key, on) {
    const one = this.drawn.get(key);
    if (!one) return;
    one.box.classList.toggle("is-held", on);
    if (on && one.box !== this.part("pieces").lastElementChild) this.part("pieces").append(one.box);
  }

  choose(key) {
    for (const [other, one] of this.drawn) one.box.classList.toggle("is-chosen", other === key);
  }

  hide(key, on) {
    this.drawn.get(key)?.box.classList.toggle("is-away", on);
  }

  faulty(key, on) {
    this.drawn.get(key)?.box.classList.toggle("is-faulty", on);
  }

  // The handle by which the chosen piece is turned, at a side of it where there is room.
  handle(key, place) {
    const box = this.part("handle");
    if (!place) {
      if (box.firstChild) box.replaceChildren();
      return;
    }
    const item = this.items.get(key);
    const [x, y] = this.scene.seen(place.metal, laidAt(place, item.middle));
    const [left, low, right, high] = laidBox(place, item.piece.rings);
    const { x: seenLeft, y: top, width, height } = this.svg.viewBox.baseVal;
    const reach = (side) => (side[0] ? (right - left) / 2 : (high - low) / 2) + STEM_PX * this.px;
    const fits = (side) => {
      const [ax, ay] = [x + side[0] * reach(side), -(y + side[1] * reach(side))];
      const rim = 22 * this.px;
      return ax > seenLeft + rim && ax < seenLeft + width - rim && ay > top + rim && ay < top + height - rim;
    };
    const side = SIDES.find(fits) ?? SIDES[0];
    const far = reach(side) / this.px;
    const [kx, ky] = [side[0] * far, -side[1] * far];
    const knob = made(
      "g",
      { class: "laying-knob", transform: `translate(${kx} ${ky})` },
      made("circle", { class: "laying-knob-hit", r: 22 }),
      made("circle", { class: "laying-knob-seen", r: 14 }),
      made("path", { class: "laying-knob-sign", d: TURN, transform: "scale(0.85)" }),
    );
    const short = 1 - STEM_PX / far; // from the piece's side on
    const stem = made("path", { class: "laying-stem", d: `M${kx * short} ${ky * short}L${kx} ${ky}` });
    box.replaceChildren(sized([x, y], stem, knob));
  }
}

const outline = (ring) => `M${ring.map(([x, y]) => `${x} ${-y}`).join("L")}Z`;
