// What is drawn over and under the pieces: faults where they are, what a held piece catches on, and
// what the judge counted: the strip left, shared lines, free edges; where a remark points.

import { boxOf, middleOf } from "../shapes.js";
import { line, made, sized } from "./svg.js";

const LETTER_PX = 7.5; // of a fault's words, about
const BESIDE_PX = 14;
const ROW_PX = 16;
const ROWS = [0, 1, -1];

export class Marks {
  constructor(picture, scene, words) {
    Object.assign(this, { picture, scene, words });
    this.filled = new Set(); // groups of the picture with something in them
  }

  // What is empty and stays so costs nothing, however often it is asked for.
  put(group, drawn) {
    if (!drawn.length && !this.filled.has(group)) return;
    this.picture.part(group).replaceChildren(...drawn);
    if (drawn.length) this.filled.add(group);
    else this.filled.delete(group);
  }

  // `judged` is the state's; nothing of it is drawn while a piece is being moved.
  judged({ strip, shared, free }) {
    const under = [];
    if (strip) {
      const ring = strip.ring.map((at) => this.scene.seen(strip.metal, at));
      under.push(
        made("path", { class: "laying-strip", d: `M${ring.map(([x, y]) => `${x} ${-y}`).join("L")}Z` }),
        sized(middleOf(boxOf(ring)), made("text", { class: "laying-strip-name" }, this.words.say("strip"))),
      );
    }
    this.put("strip", under);
    this.put("counted", [
      ...(free ?? []).map((one) => this.between("laying-free", one)),
      ...(shared ?? []).map((one) => this.between("d-shared", one)),
    ]);
  }

  between(name, [x0, y0, x1, y1, metal]) {
    return line(name, [...this.scene.seen(metal, [x0, y0]), ...this.scene.seen(metal, [x1, y1])]);
  }

  // The lines that a held piece catches on.
  caught(metal, snaps) {
    const lines = (snaps ?? []).filter((snap) => snap.line).map((snap) => this.between("laying-catch", [...snap.line, metal]));
    this.put("caught", lines);
  }

  // The ring where the teacher's remark points; the page has its place.
  remark() {
    const { metal, at, radius } = this.picture.part("remark").dataset;
    if (!metal) return;
    const [cx, cy] = this.scene.seen(metal, at.split(" ").map(Number));
    const ring = (name) => made("circle", { class: name, cx, cy: -cy, r: radius });
    const title = made("title", {}, this.words.say("remark"));
    this.put("remark", [made("g", { role: "img" }, title, ring("d-mark d-mark-halo"), ring("d-mark"))]);
  }

  // Each fault as the geometry finds it: { metal, at, to, value }. Those of a piece in hand are a
  // group of their own: the others are drawn once while it is moved.
  faults(found, group = "faults") {
    const drawn = [];
    const written = [];
    for (const fault of found) {
      if (!fault.at) continue;
      const from = this.scene.seen(fault.metal, fault.at);
      const to = this.scene.seen(fault.metal, fault.to ?? fault.at);
      const at = [(from[0] + to[0]) / 2, (from[1] + to[1]) / 2];
      const over = fault.kind === "outside" || !(fault.value > 0);
      const marks = [made("circle", { class: "laying-fault-place", r: over ? 9 : 6 })];
      const said = this.measured(fault);
      const beside = this.besideOf(at, said, written);
      if (beside) marks.push(made("text", { class: "laying-fault-text", ...beside }, said));
      drawn.push(line("laying-fault", [...from, ...to]), sized(at, ...marks));
    }
    this.put(group, drawn);
  }

  // Where a fault's words are read: beside its place, on the side where the picture has room, and not
  // on words that are written already; null where all around is full (the list has every fault).
  besideOf([x, y], said, written) {
    const { px, svg } = this.picture;
    const { x: left, y: top, width, height } = svg.viewBox.baseVal;
    const wide = said.length * LETTER_PX;
    const turns = (left + width - x) / px < BESIDE_PX + wide;
    const from = x / px + (turns ? -BESIDE_PX - wide : BESIDE_PX);
    for (const row of ROWS) {
      const box = [from, -y / px + row * ROW_PX, from + wide];
      if (box[1] < top / px + BESIDE_PX || box[1] > (top + height) / px - BESIDE_PX) continue;
      if (written.some(([x0, at, x1]) => x0 < box[2] && x1 > box[0] && Math.abs(at - box[1]) < ROW_PX - 1)) continue;
      written.push(box);
      return { x: turns ? -BESIDE_PX : BESIDE_PX, y: 5 + row * ROW_PX, "text-anchor": turns ? "end" : "start" };
    }
    return null;
  }

  measured(fault) {
    const { words } = this;
    if (fault.kind === "outside") return words.say("outside");
    if (fault.kind === "piece" && !(fault.value > 0)) return words.say("over");
    if (fault.kind === "cut" && !(fault.value > 0.01)) return words.say("onCut");
    return words.length(Math.max(0, fault.value ?? 0));
  }
}
