// Correcting a pattern's lines by mouse, finger and keyboard. The server has the last word on
// everything: what is shown here at once goes back when it refuses. This module sets the desk:
// what the others share.

import { Choice } from "./choice.js";
import { Deeds } from "./deeds.js";
import { drawGaps, drawHandles, drawLines, drawPoints, redrawLine, shiftHandles } from "./draw.js";
import { Hand } from "./hand.js";
import { keys } from "./keys.js";
import { middle } from "./lines.js";
import { Panel } from "./panel.js";
import { Push } from "./push.js";
import { Work } from "./work.js";
import { PictureView } from "../picture_view.js";

const ROUGH = matchMedia("(pointer: coarse)");

const root = document.querySelector("[data-correcting]");
const svg = root.querySelector("[data-drawing]");
const part = (name) => svg.querySelector(`[data-${name}]`);
const state = JSON.parse(document.getElementById("correcting-state").textContent);
const sayBox = root.querySelector("[data-say]");
const refusalBox = root.querySelector("[data-refusal]");
const undoButton = root.querySelector("[data-undo]");
const redoButton = root.querySelector("[data-redo]");
const holeButton = root.querySelector("[data-new-hole]");

const panel = new Panel(root, state.unit, state.drills);
const desk = { root, svg, panel, settle, show, say, refuse, preview, letGo, reveal: (at) => view.reveal(at) };
const work = new Work(state, root.querySelector("[name=csrfmiddlewaretoken]").value, {
  settle, show, say, refuse, answered, made: (id) => { choice.id = id; },
});
desk.work = work;
const choice = new Choice(desk, new URLSearchParams(location.search).get("line"));
desk.choice = choice;
const push = new Push(desk);
desk.push = push;
const deeds = new Deeds(desk);
desk.deeds = deeds;

const view = new PictureView(root, {
  picture: () => svg,
  farthest: 6, // so that all of the paper can be seen
  anchor: () => choice.at(),
  taken: () => hand.holds,
  pinching: () => hand.cancel(),
  changed: draw,
});
const px = () => 1 / view.scale;
const room = () => (ROUGH.matches ? 30 : 16);

function draw() {
  if (hand.holds) return; // an answer that comes while something is pulled is drawn afterwards
  choice.check();
  svg.classList.toggle("has-chosen", choice.id !== null);
  const fine = part("fine");
  if (fine) fine.setAttribute("visibility", view.scale > 5 ? "visible" : "hidden");
  drawLines(part("lines"), work.lines, state.labels, choice.id, px());
  drawGaps(part("gaps"), state.gaps, px());
  drawHandles(part("handles"), choice.line, choice.point, px(), room());
  drawPoints(part("points"), state.points, view.share);
}

function show() {
  draw();
  panel.fill(choice.line ?? null, state.labels[choice.id], Math.max(choice.point, 0));
  root.dataset.count = state.count;
  svg.setAttribute("aria-busy", String(work.isBusy));
  undoButton.disabled = !work.mayUndo;
  redoButton.disabled = work.redo.length === 0;
  redoButton.hidden = work.redo.length === 0;
  work.keepUndone();
}

// One line as it would be.
function preview(base, asked) {
  work.preview(base, asked);
  const here = choice.line;
  redrawLine(part("lines"), here, px());
  shiftHandles(part("handles"), here, choice.point, px());
  const at = asked.to ?? middle(here);
  panel.field("x").value = panel.shown(at[0]);
  panel.field("y").value = panel.shown(at[1]);
}

function say(words) {
  sayBox.textContent = words;
}

function refuse(words) {
  refusalBox.textContent = words;
  refusalBox.hidden = !words;
}

// Sends what was pushed and is not at rest yet.
function settle() {
  push.flush();
}

function answered(moved) {
  panel.versions(state);
  panel.gaps(state.gaps);
  if (!moved) return;
  history.replaceState(null, "", state.urls.page);
  for (const link of document.querySelectorAll("[data-back]")) link.href = state.urls.back;
}

function letGo() {
  if (hand.cancel()) return;
  if (wantsHole()) wantHole(false);
  else choice.letGo();
}

// ---- buttons

root.querySelector("[data-undo-form]").addEventListener("submit", (event) => {
  event.preventDefault();
  work.undo();
});
redoButton.addEventListener("click", () => work.doAgain());
root.addEventListener("click", (event) => {
  const button = event.target.closest("button[type=button]");
  if (!button) return;
  const { otherLine, otherPoint, push: pushed } = button.dataset;
  if (otherLine) choice.next(Number(otherLine));
  else if (otherPoint) choice.holdNext(Number(otherPoint));
  else if (pushed) push.nudge(...pushed.split(" ").map(Number), event.shiftKey);
  else if (button === holeButton) wantHole(!wantsHole());
  else if (button.hasAttribute("data-sheet-toggle")) toggleSheet(button);
});
panel.field("point").addEventListener("change", (event) => choice.hold(Number(event.target.value) - 1 || 0));

function toggleSheet(button) {
  const on = button.getAttribute("aria-pressed") !== "true";
  button.setAttribute("aria-pressed", String(on));
  part("sheet").setAttribute("visibility", on ? "visible" : "hidden");
}

function wantsHole() {
  return holeButton.getAttribute("aria-pressed") === "true";
}

function wantHole(on) {
  holeButton.setAttribute("aria-pressed", String(on));
  svg.classList.toggle("is-placing", on);
  if (on) say(`Tap or click where the drill mark goes. It is ${panel.shown(panel.drill)} ${state.unit.name} across to begin with.`);
}

// ---- keyboard, mouse and finger

keys(desk);

const hand = new Hand(svg, view, root.querySelector("[data-glass]"), {
  placing: wantsHole,
  line: () => choice.line,
  tapLine: (id) => (id === choice.id ? null : choice.choose(id)),
  tapNothing: () => choice.choose(null),
  tapGap: (gap) => deeds.join(gap),
  place(at) {
    wantHole(false);
    deeds.newHole(at);
  },
  take(index) {
    settle();
    choice.point = index;
    choice.holdsCircle = index < 0;
    const pulled = choice.line;
    shiftHandles(part("handles"), pulled, index, px());
    return { base: work.lines, reach: (way) => panel.reach(pulled, index, way) };
  },
  drag: preview,
  drop(base, asked) {
    if (asked) work.changeFrom(base, asked);
    else {
      work.lines = base;
      show();
    }
  },
});

addEventListener("resize", draw);
// A change that is not answered yet would be lost with the page.
addEventListener("beforeunload", (event) => {
  settle();
  if (work.isBusy) event.preventDefault();
});

root.classList.add("has-script");
show();
