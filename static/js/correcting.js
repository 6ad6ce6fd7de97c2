// Correcting a pattern's lines by mouse, finger and keyboard. The server has the last word on
// everything: what is shown here at once goes back when it refuses.

import { applied } from "./correcting_changes.js";
import { drawGaps, drawHandles, drawLines, drawPoints, redrawLine, shiftHandles } from "./correcting_draw.js";
import { Hand } from "./correcting_hand.js";
import { middle } from "./correcting_lines.js";
import { Panel } from "./correcting_panel.js";
import { Sender } from "./correcting_send.js";
import { View } from "./correcting_view.js";

const PUSH_REST_MS = 700; // a row of pushes by arrow keys is one change
const UNDONE = "correcting-undone";
const ROUGH = matchMedia("(pointer: coarse)");

const root = document.querySelector("[data-correcting]");
const svg = root.querySelector("[data-drawing]");
const part = (name) => svg.querySelector(`[data-${name}]`);
const state = JSON.parse(document.getElementById("correcting-state").textContent);
const panel = new Panel(root, state.unit, state.drills);
const sayBox = root.querySelector("[data-say]");
const refusalBox = root.querySelector("[data-refusal]");
const undoButton = root.querySelector("[data-undo]");
const redoButton = root.querySelector("[data-redo]");
const holeButton = root.querySelector("[data-new-hole]");

let known = byId(state.lines); // as the server has them
let lines = known; // as they are shown
let chosen = new URLSearchParams(location.search).get("line");
let point = -1; // the point in hand, -1 for none
let redo = undoneBefore();
let push = null; // { change, timer }: pushes that are not sent yet
let toReveal = "";

function byId(list) {
  return new Map(list.map((line) => [line.id, line]));
}

const view = new View(svg, draw);
const sender = new Sender(root.querySelector("[name=csrfmiddlewaretoken]").value, {
  state: () => state,
  yes: heard,
  no: refused,
  wait: (text) => refuse(text),
});

const far = (a, b) => (a ? Math.hypot(a[0] - b[0], a[1] - b[1]) : 0);
const line = () => lines.get(chosen);
const px = () => 1 / view.scale;
const room = () => (ROUGH.matches ? 30 : 16);

function draw() {
  if (hand.holds) return; // an answer that comes while something is pulled is drawn afterwards
  if (!lines.has(chosen)) chosen = null;
  svg.classList.toggle("has-chosen", chosen !== null);
  svg.classList.toggle("is-near", !view.isWhole); // then a finger moves the picture, not the page
  const here = line();
  if (here && !here.round && point >= here.points.length) point = here.points.length - 1;
  const fine = part("fine");
  if (fine) fine.setAttribute("visibility", view.scale > 5 ? "visible" : "hidden");
  drawLines(part("lines"), lines, state.labels, chosen, px());
  drawGaps(part("gaps"), state.gaps, px());
  drawHandles(part("handles"), here, point, px(), room());
  drawPoints(part("points"), state.points, view.now.width / view.whole.width);
}

function show() {
  draw();
  const here = line();
  panel.fill(here ?? null, state.labels[chosen], Math.max(point, 0));
  root.dataset.count = state.count;
  svg.setAttribute("aria-busy", String(sender.waiting.length > 0));
  undoButton.disabled = state.count === 0 && sender.waiting.length === 0;
  redoButton.disabled = redo.length === 0;
  redoButton.hidden = redo.length === 0;
  keepUndone();
}

// What was undone can be done again after the page is loaded anew, as long as the lines are the
// same. It is kept in this tab only.
function undoneBefore() {
  try {
    const kept = JSON.parse(sessionStorage.getItem(UNDONE));
    const same = kept?.page === state.urls.page && kept.version === state.version;
    return same && Array.isArray(kept.redo) ? kept.redo : [];
  } catch {
    return [];
  }
}

function keepUndone() {
  if (sender.waiting.length) return;
  try {
    if (redo.length) sessionStorage.setItem(UNDONE, JSON.stringify({ page: state.urls.page, version: state.version, redo }));
    else sessionStorage.removeItem(UNDONE);
  } catch {
    // Without room, or where a browser keeps nothing, it lasts until the page is left.
  }
}

function say(words) {
  sayBox.textContent = words;
}

function refuse(words) {
  refusalBox.textContent = words;
  refusalBox.hidden = !words;
}

function choose(id, at = -1) {
  flush();
  chosen = lines.has(id) ? id : null;
  point = at;
  show();
  const words = state.labels[chosen];
  if (chosen) say(`Line ${chosen}: ${words?.now ?? ""}, ${words?.looks ?? ""}.`);
}

function hold(index) {
  const here = line();
  if (!here) return;
  flush();
  const count = here.points.length;
  point = here.round ? -1 : ((index % count) + count) % count;
  show();
  const at = here.round ? middle(here) : here.points[point];
  view.reveal(at);
  const words = `${panel.shown(at[0])} across, ${panel.shown(at[1])} up`;
  say(here.round ? `Middle of the circle: ${words}.` : `Point ${point + 1} of ${count}: ${words}.`);
}

// ---- changes: shown at once, sent, and taken back when the server refuses

function change(...changes) {
  flush();
  redo = [];
  put(changes);
}

function put(changes, again = false) {
  refuse("");
  for (const each of changes) {
    if (each.do === "name") nameLines(each.labels);
    if (each.do === "new-hole") toReveal = "new";
    lines = applied(lines, each);
  }
  say("Checking…");
  sender.change(changes, again);
  show();
}

function nameLines(labels) {
  for (const [id, label] of Object.entries(labels)) {
    if (label && state.labels[id]) {
      state.labels[id] = { ...state.labels[id], label, now: state.names[label] };
    }
  }
}

function heard(answer, job) {
  adopt(answer.state);
  if (job.undo) {
    redo.push(answer.undone);
  }
  refuse("");
  show();
  say(`Checked again: ${state.summary}.`);
}

function refused(text, answer) {
  if (answer.state) {
    redo = [];
    adopt(answer.state);
  } else {
    lines = known;
  }
  show();
  refuse(text);
  say("");
}

function adopt(fresh) {
  const before = known;
  known = fresh.all ? byId(fresh.lines) : new Map(known);
  for (const each of fresh.lines) known.set(each.id, each);
  for (const id of fresh.gone ?? []) known.delete(id);
  const moved = fresh.urls.page !== state.urls.page;
  Object.assign(state, fresh);
  panel.versions(state);
  panel.gaps(state.gaps);
  if (moved) {
    history.replaceState(null, "", state.urls.page);
    for (const link of document.querySelectorAll("[data-back]")) link.href = state.urls.back;
  }
  lines = known;
  // What waits still is shown on top of what the server has now; the first was just answered.
  for (const job of sender.waiting) for (const each of job.changes ?? []) lines = applied(lines, each);
  if (toReveal === "new") {
    const made = [...known.keys()].find((id) => !before.has(id));
    if (made) chosen = made;
    toReveal = "";
  }
}

function undo() {
  flush();
  refuse("");
  if (state.count === 0 && sender.waiting.length === 0) return;
  say("Undoing…");
  sender.undo();
}

function doAgain() {
  const group = redo.pop();
  if (group) put(group, true);
}

// ---- pushing the point in hand by small steps: one change when it comes to rest

function nudge(across, up, far) {
  const here = line();
  if (!here) return;
  const step = state.unit.step * (far ? 10 : 1);
  if (!push && !here.round && point < 0) hold(0);
  const by = [across * step, up * step];
  if (!push) {
    const reach = here.round ? 0 : panel.reach(here, point);
    push = here.round
      ? { do: "move-line", line: here.id, by: [0, 0] }
      : { do: "move-point", line: here.id, index: point, to: here.points[point].slice(), reach_mm: reach };
    push = { change: push, base: lines, timer: 0 };
  }
  const to = push.change.by ?? push.change.to;
  to[0] = Number((to[0] + by[0]).toFixed(6));
  to[1] = Number((to[1] + by[1]).toFixed(6));
  preview(push.base, push.change);
  clearTimeout(push.timer);
  push.timer = setTimeout(flush, PUSH_REST_MS);
}

function flush() {
  if (!push) return;
  clearTimeout(push.timer);
  const { change: asked, base } = push;
  push = null;
  lines = base;
  redo = [];
  put([asked]);
}

// One line as it would be, without asking anybody.
function preview(base, asked) {
  lines = applied(base, asked);
  redrawLine(part("lines"), line(), px());
  shiftHandles(part("handles"), line(), point, px());
  const here = line();
  const at = asked.to ?? middle(here);
  panel.field("x").value = panel.shown(at[0]);
  panel.field("y").value = panel.shown(at[1]);
}

function addPoint() {
  const here = line();
  if (!here || here.round) return;
  const index = Math.max(point, 0);
  const next = here.points[index + 1] ?? (here.closed ? here.points[0] : null);
  const after = next ? index : index - 1;
  const [a, b] = [here.points[after], here.points[(after + 1) % here.points.length]];
  change({ do: "add-point", line: here.id, after, at: [(a[0] + b[0]) / 2, (a[1] + b[1]) / 2] });
  hold(after + 1);
}

function removePoint() {
  const here = line();
  if (!here || here.round || point < 0) return;
  change({ do: "remove-point", line: here.id, index: point });
}

function moveTo(at) {
  const here = line();
  if (!here) return;
  if (here.round) {
    const [x, y] = middle(here);
    change({ do: "move-line", line: here.id, by: [at[0] - x, at[1] - y] });
  } else {
    const index = Math.max(point, 0);
    change({ do: "move-point", line: here.id, index, to: at, reach_mm: panel.reach(here, index, far(here.points[index], at)) });
  }
}

function join(gap) {
  const [first, end, other, otherEnd] = gap.split("|");
  change({ do: "join", line: first, end, other, other_end: otherEnd });
  choose(first);
}

function newHole(at) {
  change({ do: "new-hole", at, diameter_mm: panel.drill });
}

// ---- the forms beside the picture

function pressed(event) {
  const form = event.target;
  const button = event.submitter;
  const value = (name) => form.elements[name]?.value ?? "";
  const number = (name) => panel.typed(value(name));
  const asked = { name: named, diameter: across, point: pointed, join: joinGap, "new-hole": byNumbers };
  event.preventDefault();
  asked[form.dataset.changeForm]();

  function named() {
    change({ do: "name", labels: { [chosen]: button.value } });
  }
  function across() {
    const typed = value("diameter").trim();
    const size = typed ? number("diameter") : Number(value("drill"));
    if (!(size > 0)) refuse("Choose a drill, or type the diameter.");
    else change({ do: "diameter", line: chosen, diameter_mm: size });
  }
  function pointed() {
    const here = line();
    if (button.value === "add-point") addPoint();
    else if (button.value === "remove-point") {
      if (point < 0) point = Number(value("point")) - 1;
      removePoint();
    } else {
      const at = [number("x"), number("y")];
      if (at.some(Number.isNaN)) refuse(`Type numbers, such as 12.5 (${state.unit.name}).`);
      else {
        if (!here.round) point = Number(value("point")) - 1;
        moveTo(at);
      }
    }
  }
  function joinGap() {
    join(button.value);
  }
  function byNumbers() {
    const at = [number("x"), number("y")];
    if (at.some(Number.isNaN)) refuse("Type how far across and up the drill mark lies.");
    else newHole(at);
  }
}

for (const form of root.querySelectorAll("[data-change-form]")) form.addEventListener("submit", pressed);
root.querySelector("[data-undo-form]").addEventListener("submit", (event) => {
  event.preventDefault();
  undo();
});
redoButton.addEventListener("click", doAgain);
root.addEventListener("click", (event) => {
  const button = event.target.closest("button[type=button]");
  if (!button) return;
  const { zoom, otherLine, otherPoint, push: pushed } = button.dataset;
  if (zoom === "whole") view.all();
  else if (zoom) view.zoom(zoom === "in" ? 1.5 : 1 / 1.5, held());
  else if (otherLine) nextLine(Number(otherLine));
  else if (otherPoint) hold(Math.max(point, 0) + (point < 0 ? 0 : Number(otherPoint)));
  else if (pushed) nudge(...pushed.split(" ").map(Number), event.shiftKey);
  else if (button === holeButton) wantHole(holeButton.getAttribute("aria-pressed") !== "true");
  else if (button.hasAttribute("data-sheet-toggle")) toggleSheet(button);
});
panel.field("point").addEventListener("change", (event) => hold(Number(event.target.value) - 1 || 0));

function held() {
  const here = line();
  if (!here) return null;
  return here.round || point < 0 ? middle(here) : here.points[point];
}

function toggleSheet(button) {
  const on = button.getAttribute("aria-pressed") !== "true";
  button.setAttribute("aria-pressed", String(on));
  part("sheet").setAttribute("visibility", on ? "visible" : "hidden");
}

function wantHole(on) {
  holeButton.setAttribute("aria-pressed", String(on));
  svg.classList.toggle("is-placing", on);
  if (on) say(`Tap or click where the drill mark goes. It is ${panel.shown(panel.drill)} ${state.unit.name} across to begin with.`);
}

function nextLine(step) {
  const ids = [...lines.keys()];
  if (!ids.length) return;
  const now = ids.indexOf(chosen);
  const next = now < 0 ? (step > 0 ? 0 : ids.length - 1) : (now + step + ids.length) % ids.length;
  choose(ids[next]);
  view.reveal(line().closed ? middle(line()) : line().points[0]);
}

// ---- the keyboard, with the picture in focus

svg.setAttribute("tabindex", "0");
svg.setAttribute("role", "application");
svg.setAttribute("aria-label", "Lines of the pattern. Arrow keys go to the next line, Enter takes a point in hand; see Keys.");
const ARROWS = { ArrowLeft: [-1, 0], ArrowRight: [1, 0], ArrowUp: [0, 1], ArrowDown: [0, -1] };

svg.addEventListener("keydown", (event) => {
  const arrow = ARROWS[event.key];
  const inHand = point >= 0 || (holdsCircle && line()?.round);
  if (event.ctrlKey || event.metaKey || event.altKey) return;
  if (arrow && inHand) nudge(...arrow, event.shiftKey);
  else if (arrow) nextLine(arrow[0] + arrow[1] > 0 ? 1 : -1);
  else if (event.key === "Enter" && line()) {
    holdsCircle = Boolean(line().round);
    hold(Math.max(point, 0));
  } else if (event.key === "PageDown" && line()) hold(point + 1);
  else if (event.key === "PageUp" && line()) hold(point < 0 ? 0 : point - 1);
  else if (event.key === "Insert") addPoint();
  else if (event.key === "Delete") removePoint();
  else if (event.key === "+" || event.key === "=") view.zoom(1.5, held());
  else if (event.key === "-") view.zoom(1 / 1.5, held());
  else if (event.key === "0") view.all();
  else if (event.key === "Escape") letGo();
  else return;
  event.preventDefault();
});
let holdsCircle = false;

function letGo() {
  if (hand.cancel()) return;
  if (holeButton.getAttribute("aria-pressed") === "true") wantHole(false);
  else if (point >= 0 || holdsCircle) {
    holdsCircle = false;
    flush();
    point = -1;
    show();
    say(`Line ${chosen} is chosen.`);
  } else choose(null);
}

document.addEventListener("keydown", (event) => {
  if (!(event.ctrlKey || event.metaKey) || event.altKey || event.target.closest("input, textarea")) return;
  const key = event.key.toLowerCase();
  if (key === "z" && !event.shiftKey) undo();
  else if (key === "y" || (key === "z" && event.shiftKey)) doAgain();
  else return;
  event.preventDefault();
});

// ---- mouse and finger

const hand = new Hand(svg, view, root.querySelector("[data-glass]"), {
  placing: () => holeButton.getAttribute("aria-pressed") === "true",
  line,
  tapLine: (id) => (id === chosen ? null : choose(id)),
  tapNothing: () => choose(null),
  tapGap: join,
  place(at) {
    wantHole(false);
    newHole(at);
  },
  take(index) {
    flush();
    point = index;
    holdsCircle = index < 0;
    shiftHandles(part("handles"), line(), point, px());
    const pulled = line();
    return { base: lines, reach: (way) => panel.reach(pulled, index, way) };
  },
  drag: (base, asked) => preview(base, asked),
  drop(base, asked) {
    lines = base;
    if (asked) change(asked);
    else show();
  },
});

addEventListener("resize", draw);
// A change that is not answered yet would be lost with the page.
addEventListener("beforeunload", (event) => {
  flush();
  if (sender.waiting.length) event.preventDefault();
});

root.classList.add("has-script");
show();
