// Draws how the metal is parted: parts lightly outlined, with whose they are and their size, and the
// cuts with their numbers.

import { line, made, sized } from "../drawing/svg.js";

const LETTER_PX = 7;
const ROW_PX = 16;
const CHIP_PX = 18;
const IN_PX = 6; // from a part's corner to what is written in it

// A student's colour and pattern, beside the letter.
function chip({ hue, weave }, x) {
  const box = { x, y: 3, width: 13, height: 13 };
  return [made("rect", { class: `laying-chip ${hue}`, ...box }), made("rect", { class: weave, ...box })];
}

export class Drawn {
  constructor(desk) {
    this.desk = desk;
    const part = (name) => desk.svg.querySelector(`[data-${name}]`);
    this.under = part("parts");
    this.hits = part("cut-hits");
    this.over = part("cuts");
    this.names = part("part-names");
    this.marks = part("cut-faults");
  }

  show({ cuts, parts }, chosen, alone) {
    this.under.replaceChildren(...parts.map((one) => this.part(one, chosen, alone)));
    this.cuts(cuts, chosen, alone);
    this.label(parts, alone);
  }

  part(one, chosen, alone) {
    const kind = one.letter ? "" : " is-leftover";
    const mark = chosen?.id === one.id && chosen.kind === "part" ? " is-chosen" : "";
    const faint = alone && alone !== one.id ? " is-faint" : "";
    const title = made("title", {}, `${one.name}, ${one.size}`);
    const d = one.rings.map((rings) => rings.map((ring) => this.outline(one.metal, ring)).join("")).join("");
    return made("path", { class: `laying-part${kind}${mark}${faint}`, d, "fill-rule": "evenodd", "data-part": one.id }, title);
  }

  outline(metal, ring) {
    return `M${ring.map((at) => this.desk.scene.seen(metal, at)).map(([x, y]) => `${x} ${-y}`).join("L")}Z`;
  }

  cuts(cuts, chosen, alone) {
    this.hits.replaceChildren(...cuts.flatMap((cut) => this.runs(cut).map((at) => {
      const hit = line("laying-cut-hit", at);
      hit.dataset.cut = cut.id;
      return hit;
    })));
    this.over.replaceChildren(...cuts.map((cut) => this.cut(cut, chosen?.kind === "cut" && chosen.id === cut.id, Boolean(alone))));
  }

  runs({ metal, runs }) {
    const { scene } = this.desk;
    return runs.map(([x0, y0, x1, y1]) => [...scene.seen(metal, [x0, y0]), ...scene.seen(metal, [x1, y1])]);
  }

  cut(cut, isChosen, faint) {
    const runs = this.runs(cut);
    const drawn = runs.flatMap((at) => [line("laying-cut-halo", at), line("laying-cut", at)]);
    if (runs.length) {
      const [x0, y0, x1, y1] = runs[0];
      const at = [x0 + (x1 - x0) * 0.12, y0 + (y1 - y0) * 0.12];
      drawn.push(sized(at, made("circle", { class: "laying-cut-sign", r: 10 }), made("text", { class: "laying-cut-number", y: 0.5 }, String(cut.number))));
    }
    const far = cut.sides[0] ? `, ${cut.sides[0].far} ${cut.sides[0].words}` : "";
    return made("g", { class: `laying-cut-box${isChosen ? " is-chosen" : ""}${faint ? " is-faint" : ""}`, role: "img", "aria-label": `${cut.name}${far}` }, ...drawn);
  }

  // What is written in a part: as much as there is room for on the screen.
  label(parts, alone) {
    const { scene, picture } = this.desk;
    const drawn = [];
    for (const one of parts) {
      if (alone && alone !== one.id) continue;
      const [left, low, right, high] = one.box;
      const [wide, tall] = [(right - left) / picture.px, (high - low) / picture.px];
      const rows = [one.letter || this.desk.words.say("leftOver"), one.size].filter((text, row) => text.length * LETTER_PX + IN_PX < wide && (row + 1) * ROW_PX < tall);
      if (!rows.length) continue;
      const beside = rows[0] === one.letter ? one.marks.length * CHIP_PX : 0;
      const texts = rows.map((text, row) => made("text", { class: row ? "laying-part-size" : "laying-part-letter", x: IN_PX + (row ? 0 : beside), y: 15 + row * ROW_PX }, text));
      const chips = beside ? one.marks.flatMap((mark, index) => chip(mark, IN_PX + index * CHIP_PX)) : [];
      drawn.push(sized(scene.seen(one.metal, [left, high]), ...chips, ...texts));
    }
    this.names.replaceChildren(...drawn);
  }

  // Where the judge finds cuts wrong.
  faults(found) {
    this.marks.replaceChildren(...found.map(({ metal, at, words }) =>
      sized(this.desk.scene.seen(metal, at), made("circle", { class: "laying-fault-place", r: 9 }, made("title", {}, words)))));
  }
}
