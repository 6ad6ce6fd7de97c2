// How the metal of a class plan is parted, on the table: cuts are chosen, pulled, pushed by keys, and
// drawn anew; parts are chosen, sized, and looked at alone. The forms beside the picture do all of it
// too.

import { boxOf } from "../shapes.js";
import { Drawn } from "./drawn.js";
import { Forms } from "./forms.js";
import { fromRuns, isIn, Line } from "./lines.js";
import { CutPull } from "./pull.js";
import { STILL_PX } from "../../picture_view.js";

const REACH_PX = { mouse: 6, pen: 10, touch: 16 };
const REST_MS = 700;
const WAYS = { upright: [0, 1], level: [1, 0] };
const RIM = 0.06; // of a blank, round it when it is looked at alone

export class Parting {
  // `desk` has root, svg, scene, picture, work, words, view, state, px(), isLoose(), say(words).
  constructor(desk) {
    this.desk = desk;
    this.chosen = { kind: null, cut: null, part: null };
    this.drawing = null; // "upright" or "level" while a new cut is drawn
    this.alone = null; // the id of the part that is looked at alone
    this.down = null;
    this.pull = null;
    this.push = null;
    this.told = "";
    this.drawn = new Drawn(desk);
    this.forms = new Forms(desk, this);
    this.together = desk.root.querySelector("[data-together]");
    this.along = desk.root.querySelector("[data-along]");
    const [first] = this.state.cuts;
    this.chosen.cut = first?.id ?? null;
    this.chosen.part = this.state.parts[0]?.id ?? null;
    desk.root.addEventListener("click", (event) => this.pressed(event));
    this.cutsOf();
  }

  get state() {
    return this.desk.work.parting;
  }

  get may() {
    return this.desk.work.state.may.change;
  }

  get holds() {
    return Boolean(this.down);
  }

  get cut() {
    return this.state.cuts.find(({ id }) => id === this.chosen.cut) ?? null;
  }

  get part() {
    return this.state.parts.find(({ id }) => id === this.chosen.part) ?? null;
  }

  // ---- showing

  // With every answer, and with every change that waits for one.
  show() {
    if (this.pull) return;
    const { chosen } = this;
    if (!this.cut) chosen.cut = this.state.cuts[0]?.id ?? null;
    if (!this.part) chosen.part = this.state.parts[0]?.id ?? null;
    if (this.alone && !this.state.parts.some(({ id }) => id === this.alone)) this.alone = null;
    this.cutsOf();
    this.draw();
    this.forms.show();
    this.faint();
  }

  draw() {
    const { kind } = this.chosen;
    this.drawn.show(this.state, kind && { kind, id: this.chosen[kind] }, this.alone);
    const { faults } = this.desk.work.state.judged;
    this.drawn.faults(faults.filter(({ at, on }) => at && on).map(({ at, on, words }) => ({ at, metal: on, words })));
  }

  sizes() {
    this.drawn.label(this.state.parts, this.alone);
  }

  // Pieces keep away from cuts while they are pulled.
  cutsOf() {
    const now = JSON.stringify(this.state.cuts.map(({ metal, runs }) => [metal, runs]));
    if (now === this.known) return;
    this.known = now;
    const byMetal = new Map();
    for (const { metal, runs } of this.state.cuts) byMetal.set(metal, [...(byMetal.get(metal) ?? []), ...runs]);
    this.desk.bench.parted(byMetal);
    this.desk.faults.again();
  }

  faint() {
    const { svg, items, work } = this.desk;
    const alone = this.state.parts.find(({ id }) => id === this.alone);
    svg.classList.toggle("is-alone", Boolean(alone));
    for (const [key, { box }] of this.desk.picture.drawn) {
      const group = items.get(key)?.piece.group ?? "";
      const here = !alone || (work.placed(key)?.metal === alone.metal && alone.groups.includes(group));
      box.classList.toggle("is-faint", !here);
    }
  }

  // ---- choosing

  choose(kind, id, said = true) {
    this.flush();
    this.chosen.kind = id ? kind : null;
    if (id) this.chosen[kind] = id;
    if (id) this.desk.choice.set(null);
    this.draw();
    this.forms.show();
    if (said && id) this.desk.say(this.saidOf(kind));
  }

  letGo() {
    if (this.cancel()) return true;
    if (this.drawing) {
      this.draws(null);
      return true;
    }
    if (!this.chosen.kind) return false;
    this.chosen.kind = null;
    this.draw();
    return true;
  }

  saidOf(kind) {
    const { words } = this.desk;
    if (kind === "part") return this.part ? words.say("chosenPart", this.part) : "";
    const { cut } = this;
    if (!cut) return "";
    const [side] = cut.sides;
    return side ? words.say("chosenCut", { cut: cut.name, far: side.far, edge: side.words }) : cut.name;
  }

  next(kind, step) {
    const rows = kind === "cut" ? this.state.cuts : this.state.parts;
    if (!rows.length) return;
    const at = this.chosen.kind === kind ? rows.findIndex(({ id }) => id === this.chosen[kind]) + step : step > 0 ? 0 : rows.length - 1;
    this.choose(kind, rows[(at + rows.length) % rows.length].id);
    const one = this[kind];
    const spot = kind === "cut" ? one.line.slice(0, 2) : one.box.slice(0, 2);
    this.desk.reveal(this.desk.scene.seen(one.metal, spot));
  }

  // ---- mouse, finger, pen

  // Whether a pointer that came down on no piece is for a cut; `near` says how far a piece was.
  takes(event) {
    const { desk } = this;
    const at = desk.view.at(event.clientX, event.clientY);
    if (this.drawing) return this.begins(event, this.fresh(at), at);
    const reach = REACH_PX[event.pointerType] * desk.px();
    let best = null;
    for (const cut of this.state.cuts) {
      const [dx, dy] = desk.scene.offset(cut.metal);
      const far = fromRuns(cut.runs, [at[0] - dx, at[1] - dy]);
      if (far <= reach && (!best || far < best.far)) best = { cut, far };
    }
    return best ? this.begins(event, best.cut, at) : false;
  }

  // The part under a place on the screen; null off the metal.
  partUnder([x, y]) {
    const on = this.desk.scene.on(this.desk.view.at(x, y));
    return this.state.parts.find(({ metal, rings }) => metal === on.metal && isIn(rings, on.at))?.id ?? null;
  }

  begins(event, cut, at) {
    if (!cut) return false;
    const here = [event.clientX, event.clientY];
    this.down = { pointer: event.pointerId, from: here, here, cut, at, isNew: Boolean(this.drawing) };
    if (this.drawing) this.follow(false);
    return true;
  }

  // A cut that is not there yet, through the part under the hand.
  fresh(at) {
    const { scene } = this.desk;
    const on = scene.on(at);
    const part = this.state.parts.find(({ metal, rings }) => metal === on.metal && isIn(rings, on.at));
    if (!part) return null;
    const [wx, wy] = WAYS[this.drawing];
    const [x, y] = on.at;
    const runs = new Line([x, y], [wx, wy]).within(part.rings);
    if (!runs.length) return null;
    const key = this.drawing === "upright" ? "l" : "r"; // from the left, from below
    return { id: "", of: part.id, metal: part.metal, number: this.state.cuts.filter((cut) => cut.metal === part.metal).length + 1, name: "", line: [runs[0][0], runs[0][1], runs[0][2], runs[0][3]], part: part.rings, runs, sides: [{ key, words: "", far: "" }] };
  }

  moved(event) {
    const { down, desk } = this;
    if (down?.pointer !== event.pointerId) return false;
    down.here = [event.clientX, event.clientY];
    const far = Math.hypot(down.here[0] - down.from[0], down.here[1] - down.from[1]);
    if (!this.pull && (far < STILL_PX || !this.may)) return true;
    this.frame ||= requestAnimationFrame(() => this.follow(event.altKey || desk.isLoose()));
    return true;
  }

  follow(loose) {
    this.frame = 0;
    const { down, desk } = this;
    if (!down) return;
    const [dx, dy] = desk.scene.offset(down.cut.metal);
    const on = ([x, y]) => [x - dx, y - dy];
    if (!this.pull) {
      if (!down.isNew) this.chosen = { ...this.chosen, kind: "cut", cut: down.cut.id };
      this.pull = new CutPull(desk, down.cut, on(down.at));
    }
    this.pull.to(on(desk.view.at(...down.here)), loose);
    this.preview(this.pull);
  }

  preview(pull) {
    const { desk } = this;
    const moved = { ...pull.cut, runs: pull.runs };
    const cuts = pull.cut.id ? this.state.cuts.map((cut) => (cut.id === moved.id ? moved : cut)) : [...this.state.cuts, moved];
    this.drawn.cuts(cuts, { kind: "cut", id: pull.cut.id }, this.alone);
    const wrong = new Set(pull.wrong);
    for (const { key } of pull.wishes) desk.picture.faulty(key, wrong.has(key) || desk.faults.keys.has(key));
    this.forms.distance(desk.words.length(pull.far));
  }

  up(event) {
    if (this.down?.pointer !== event.pointerId) return false;
    const { pull, down } = this;
    this.rest();
    if (!pull) {
      if (!down.isNew) this.choose("cut", down.cut.id);
      return true;
    }
    if (down.isNew) this.add(down.cut, pull);
    else this.send(pull);
    return true;
  }

  // Puts back what is in hand; whether there was anything.
  cancel() {
    const had = Boolean(this.pull || this.push);
    clearTimeout(this.push?.timer);
    this.push = null;
    this.rest();
    if (had) this.show();
    return had;
  }

  rest() {
    if (this.frame) cancelAnimationFrame(this.frame);
    this.frame = 0;
    this.down = null;
    this.pull = null;
  }

  // ---- what is done

  draws(way) {
    this.drawing = this.drawing === way ? null : way;
    for (const each of this.desk.root.querySelectorAll("[data-draw]")) {
      each.setAttribute("aria-pressed", String(each.dataset.draw === this.drawing));
    }
    this.desk.svg.classList.toggle("is-cutting", Boolean(this.drawing));
    if (this.drawing) this.desk.say(this.desk.words.say("drawCut"));
  }

  add(cut, pull) {
    this.draws(null);
    const { ends } = pull;
    if (!ends) return;
    this.told = "added";
    this.desk.work.send({ to: "cuts", fields: { do: "add", part: cut.of, line: JSON.stringify(ends.map(exact)) } });
  }

  send({ cut, ends, runs, shift }) {
    if (!ends || !shift) {
      this.show();
      return;
    }
    this.told = "cut";
    const fields = { do: "move", cut: cut.id, line: JSON.stringify(ends.map(exact)), along: this.along?.checked ? "1" : "" };
    this.desk.work.send({ to: "cuts", fields, shown: { id: cut.id, line: ends, runs } });
  }

  // By arrow keys: one change when it comes to rest.
  nudge([across, up], mm) {
    const { cut } = this;
    if (this.chosen.kind !== "cut" || !cut || !this.may) return false;
    this.push ??= { pull: new CutPull(this.desk, cut, cut.line.slice(0, 2)), by: 0 };
    const { push } = this;
    const [lx, ly] = push.pull.line.left;
    push.by += (across * lx + up * ly) * mm;
    const [x, y] = push.pull.at;
    push.pull.to([x + push.by * lx, y + push.by * ly], true);
    this.preview(push.pull);
    clearTimeout(push.timer);
    push.timer = setTimeout(() => this.flush(), REST_MS);
    return true;
  }

  flush() {
    if (!this.push) return;
    const { pull, timer } = this.push;
    clearTimeout(timer);
    this.push = null;
    this.send(pull);
  }

  turn(by) {
    this.flush();
    if (this.chosen.kind !== "cut" || !this.cut || !this.may) return;
    this.told = "cut";
    this.desk.work.send({ to: "cuts", fields: { do: "turn", cut: this.cut.id, by: String(by) } });
  }

  remove() {
    this.flush();
    if (this.chosen.kind !== "cut" || !this.cut || !this.may) return;
    this.told = "removed";
    this.desk.work.send({ to: "cuts", fields: { do: "remove", cut: this.cut.id } });
  }

  pressed(event) {
    const button = event.target.closest("button[type=button]");
    if (!button) return;
    const { draw, alone, nudgeCut } = button.dataset;
    if (draw) this.draws(draw);
    else if (alone !== undefined) this.lookAlone();
    else if (nudgeCut) {
      this.chosen.kind = "cut";
      const [lx, ly] = this.cut ? Line.between(this.cut.line).left : [0, 0];
      const sign = Number(nudgeCut);
      this.nudge([sign * lx, sign * ly], event.shiftKey ? 1 : 0.1);
    }
  }

  // One student's blank fills the picture, all else is faint; once more, and all is seen again.
  lookAlone() {
    const { desk, part } = this;
    this.alone = this.alone || !part ? null : part.id;
    this.show();
    if (this.alone) {
      const [x0, y0, x1, y1] = boxOf(part.rings.flat(2));
      const [left, low] = desk.scene.seen(part.metal, [x0, y0]);
      const rim = RIM * Math.max(x1 - x0, y1 - y0);
      desk.view.frame([left - rim, low - rim, left + x1 - x0 + rim, low + y1 - y0 + rim]);
      desk.say(desk.words.say("alone", part));
    } else {
      desk.view.all();
      desk.say(desk.words.say("notAlone"));
    }
  }

  // What was done, told with the server's answer.
  answer(fields) {
    const { words } = this.desk;
    if (fields.do === "add") {
      const cut = this.state.cuts.filter(({ metal }) => fields.part.startsWith(`${metal}|`)).at(-1);
      if (cut) this.chosen = { ...this.chosen, kind: "cut", cut: cut.id };
      this.show();
      return this.saidOf("cut");
    }
    if (fields.do === "remove") return words.say("cutRemoved");
    if (fields.do === "size") return this.saidOf("part");
    return this.saidOf("cut");
  }

  // The pieces that go along with one: all of its student that lie on the same stock piece and may be
  // moved, where that is switched on.
  followers(key, place) {
    const { desk } = this;
    const before = desk.work.placed(key);
    if (!this.together?.checked || !before || !place) return [];
    if (before.turn_deg !== place.turn_deg || before.mirror !== place.mirror) return [];
    const { group } = desk.items.get(key).piece;
    const [dx, dy] = [place.x_mm - before.x_mm, place.y_mm - before.y_mm];
    const found = [];
    for (const [other, lies] of desk.work.laid) {
      if (other === key || lies.metal !== before.metal || !desk.may(other)) continue;
      if (desk.items.get(other)?.piece.group !== group) continue;
      found.push({ key: other, place: { ...lies, metal: place.metal, x_mm: lies.x_mm + dx, y_mm: lies.y_mm + dy } });
    }
    return found;
  }

  // By keys in the picture; whether the key was for a cut.
  typed(event, arrow, mm) {
    if (arrow) return this.nudge(arrow, mm);
    if (event.ctrlKey) return false;
    switch (event.key.toLowerCase()) {
      case "c":
        this.next("cut", event.shiftKey ? -1 : 1);
        return true;
      case "b":
        this.next("part", event.shiftKey ? -1 : 1);
        return true;
      case "q":
        if (this.chosen.kind !== "cut") return false;
        this.turn(event.shiftKey ? 90 : -90);
        return true;
      case "delete":
        if (this.chosen.kind !== "cut") return false;
        this.remove();
        return true;
      case "i":
        this.lookAlone();
        return true;
      default:
        return false;
    }
  }
}

const exact = (mm) => Number(mm.toFixed(6));
