// The layout table by mouse, finger, pen and keyboard. The server has the last word on everything:
// what is shown here at once goes back when it refuses. This module sets the desk: what the others
// share.

import { Choice } from "./doing/choice.js";
import { Deeds } from "./doing/deeds.js";
import { Hand } from "./doing/hand.js";
import { keys } from "./doing/keys.js";
import { Push } from "./doing/push.js";
import { warm } from "./doing/warm.js";
import { Carry } from "./drawing/carry.js";
import { Marks } from "./drawing/marks.js";
import { Picture } from "./drawing/picture.js";
import { Scene } from "./drawing/scene.js";
import { Tray } from "./drawing/tray.js";
import { Bench } from "./geometry/bench.js";
import { freshState, whenBack } from "./keeping/fresh.js";
import { Kept } from "./keeping/kept.js";
import { Work } from "./keeping/work.js";
import { Parting } from "./parting/parting.js";
import { Panel } from "./telling/panel.js";
import { Places } from "./telling/places.js";
import { Told } from "./telling/told.js";
import { where } from "./telling/where.js";
import { Words } from "./telling/words.js";
import { Faults, on } from "./faults.js";
import { items } from "./pieces.js";
import { keyOf, laidAt, laidBox } from "./shapes.js";
import { PictureView } from "../picture_view.js";

const root = document.querySelector("[data-laying]");
const svg = root.querySelector("[data-drawing]");
const frame = root.querySelector("[data-frame]");
const state = JSON.parse(document.getElementById("layout-state").textContent);
const undoButton = root.querySelector("[data-undo]");
const redoButton = root.querySelector("[data-redo]");
const catchSwitch = root.querySelector("[data-catch]");

root.classList.add("has-script");
for (const each of root.querySelectorAll("[data-needs-script]")) each.hidden = false;
for (const each of root.querySelectorAll("[data-no-script]")) each.remove();
svg.setAttribute("role", "application");
svg.setAttribute("tabindex", "0");
svg.setAttribute("aria-label", svg.dataset.keys);

const words = new Words(document.getElementById("laying-words"), state.unit);
const scene = new Scene(state.metal, frame.getBoundingClientRect());
frame.style.setProperty("--tall", scene.height / scene.width);
const desk = {
  root, svg, frame, state, words, scene, settle, show, lay, drop, undrop, preview, letGo, undo, redo, may, isFixed,
  fresh, corner, metalName, showFault,
  items: items(state.pieces, words),
  turned: new Map(), // how pieces in the tray are turned, where somebody did
  bench: new Bench(state.rules, state.metal, state.pieces),
  carry: new Carry(root.querySelector("[data-carry]")),
  px: () => 1 / view.scale,
  scale: () => view.scale * view.share,
  isLoose: () => !catchSwitch?.checked,
  reveal: (at) => view.reveal(at),
  followers: (key, place) => desk.parting?.followers(key, place) ?? [],
  parting: null, // where the metal of the layout is parted
};
desk.picture = new Picture(svg, scene, desk.items, words);
desk.marks = new Marks(desk.picture, scene, words);
desk.faults = new Faults(desk.bench, () => Boolean(hand.pull || desk.push.now), show);
desk.told = new Told(desk);
desk.say = (said) => desk.told.say(said);
const NOT_SENT = new Set(["csrfmiddlewaretoken", "seen", "key"]); // the sender's own
let waitsFor = null; // a form that goes on once everything is sent
let besideNext = 0;
let lastTold = ""; // what was said of the last move, before the server answered

const token = root.querySelector("[name=csrfmiddlewaretoken]").value;
const work = new Work(state, token, new Kept(state.urls.change, root.dataset.who), {
  show,
  refuse: (said) => desk.told.refuse(said),
  wait: (seconds) => desk.told.refuse(words.say("waiting", { seconds })),
  tooOld: () => desk.told.refuse(words.say("tooOld")),
  answered,
  refused(text) {
    judged();
    show();
    desk.told.refuse(text);
    desk.say("");
  },
});
desk.work = work;
desk.choice = new Choice(desk);
desk.push = new Push(desk);
desk.deeds = new Deeds(desk);
desk.tray = new Tray(desk);
desk.panel = new Panel(desk);
desk.places = new Places(desk);

const view = new PictureView(root, {
  picture: () => svg,
  farthest: 2,
  anchor: () => desk.choice.at(),
  taken: () => hand.holds || Boolean(desk.parting?.holds),
  joined: () => hand.isTurning,
  pinching: () => {
    desk.parting?.cancel();
    hand.cancel();
  },
  changed: sizes,
});
desk.view = view;
const hand = new Hand(desk);
desk.hand = hand;
if (work.parting) desk.parting = new Parting(desk);
keys(desk);

// ---- showing

function sizes() {
  desk.picture.sizes(1 / view.scale);
  desk.parting?.sizes();
  if (hand.pull) return;
  desk.picture.handle(desk.choice.key, may(desk.choice.key) ? desk.choice.place : null);
}

function show() {
  if (hand.pull || desk.push.now) return; // an answer that comes meanwhile is shown afterwards
  desk.faults.look(work.laid, state.fixed);
  const faulty = desk.faults.keys;
  desk.picture.pieces(work.laid, (key) => ({
    chosen: key === desk.choice.key,
    pinned: work.pinned.has(key) || isFixed(key),
    faulty: faulty.has(key),
  }));
  desk.marks.faults(desk.faults.all());
  desk.marks.faults([], "held");
  desk.parting?.show();
  desk.picture.handle(desk.choice.key, may(desk.choice.key) ? desk.choice.place : null);
  root.dataset.version = state.version;
  root.dataset.busy = work.isBusy;
  // What stands beside the picture has a frame of its own: a slow screen shows the piece first.
  besideNext ||= requestAnimationFrame(() => setTimeout(beside));
}

function beside() {
  besideNext = 0;
  if (hand.pull) return; // it is shown when that is over
  desk.tray.show();
  desk.panel.show();
  desk.places.show();
  desk.told.busy(work.isBusy);
  undoButton.disabled = !work.mayUndo;
  redoButton.disabled = !work.mayRedo;
}

function judged() {
  desk.marks.judged(state.judged);
  desk.told.show();
  for (const each of document.querySelectorAll("[data-seen], [name=seen]")) each.value = state.version;
  document.dispatchEvent(new CustomEvent("layout-judged", { detail: state.judged }));
}

// A piece where it would lie, before anything is sent.
function preview(key, place, faults) {
  desk.picture.lay(key, place);
  for (const other of desk.followers(key, place)) desk.picture.lay(other.key, other.place);
  desk.picture.faulty(key, faults.length > 0);
  desk.picture.handle(key, place);
  desk.marks.faults(desk.faults.all(key));
  desk.marks.faults(on(place, faults), "held");
  desk.panel.fields(key, desk.items.get(key), place);
}

// ---- what is done

function lay(key, place, told, snaps = []) {
  const item = desk.items.get(key);
  const { piece, copy, label } = item;
  const put = { piece: label };
  if (place) {
    const { clean, name } = state.metal.find((one) => one.id === place.metal);
    put.where = where(words, snaps, laidAt(place, item.middle), clean) || words.say("on", { metal: name });
    put.turn = words.degrees(place.turn_deg);
  }
  lastTold = words.say(told, put);
  if (!place) desk.turned.delete(key);
  const along = desk.followers(key, place).map((one) => moveOf(desk.items.get(one.key), one.place));
  work.change(moveOf({ piece, copy }, place), ...along);
  desk.say(lastTold);
}

function moveOf({ piece, copy }, place) {
  const to = place && { metal: place.metal, mirror: place.mirror, turn_deg: place.turn_deg, x_mm: place.x_mm, y_mm: place.y_mm };
  return { piece: piece.id, copy, to };
}

function drop(pull, over) {
  if (over === "picture") {
    desk.faults.know(pull.key, pull.faults);
    lay(pull.key, pull.place, pull.before ? (pull.turning ? "turned" : "moved") : "laid", pull.snaps);
  } else if (over === "tray" && pull.before) lay(pull.key, null, "backInTray");
  else undrop(pull);
}

function undrop(pull) {
  show();
  if (pull.before) desk.picture.lay(pull.key, pull.before);
}

function answered(before, job) {
  judged();
  const first = { change: lastTold, place: placed(job.fields), cuts: desk.parting?.answer(job.fields), undo: words.say("undone"), redo: words.say("redone") }[job.to] ?? "";
  show();
  if (work.isBusy) return;
  desk.say([first, desk.told.changed].filter(Boolean).join(" "));
  waitsFor?.();
}

// Where the server laid a piece for which a place was chosen by name.
function placed({ which = "" }) {
  const end = which.lastIndexOf("|");
  const key = keyOf(which.slice(0, end), Number(which.slice(end + 1)));
  const place = work.placed(key);
  return place ? words.say("laid", { piece: desk.items.get(key).label, where: words.say("on", { metal: metalName(place.metal) }) }) : "";
}

function undo() {
  settle();
  work.undo();
}

function redo() {
  settle();
  work.redo();
}

// Sends what was pushed and is not at rest yet.
function settle() {
  desk.push.flush();
  desk.parting?.flush();
}

function letGo() {
  if (hand.cancel() || desk.push.cancel() || desk.parting?.letGo()) return;
  desk.choice.choose(null);
}

// ---- what is asked of it

function may(key) {
  return Boolean(key) && state.may.change && !work.pinned.has(key) && !isFixed(key);
}

function isFixed(key) {
  return (state.fixed ?? []).some(([piece, copy]) => keyOf(piece, copy) === key);
}

// Where a piece that lies nowhere would lie if it were laid: the middle of the first stock piece.
function fresh(item) {
  const metal = state.metal[0];
  const { turn_deg, mirror } = desk.turned.get(item.key) ?? { turn_deg: item.piece.turns_deg?.[0] ?? 0, mirror: false };
  const [left, low, right, high] = scene.boxes.get(metal.id);
  const place = { piece: item.piece.id, copy: item.copy, metal: metal.id, mirror, turn_deg, x_mm: 0, y_mm: 0 };
  const [x0, y0, x1, y1] = laidBox(place, item.piece.rings);
  return { ...place, x_mm: (left + right - x0 - x1) / 2, y_mm: (low + high - y0 - y1) / 2 };
}

// Where a piece's left and lowest edge lie, from the lower left of the stock piece; millimetres.
function corner(item, place) {
  const [x, y] = laidBox(place, item.piece.rings);
  return [x, y];
}

function metalName(id) {
  return state.metal.find((one) => one.id === id)?.name ?? id;
}

function showFault(fault) {
  if (fault.on && fault.at) {
    view.reveal(scene.seen(fault.on, fault.at));
    frame.scrollIntoView({ block: "nearest" });
    return;
  }
  const key = keyOf(fault.piece, fault.copy ?? 0);
  const place = work.placed(key);
  if (desk.items.has(key)) desk.choice.choose(key);
  if (place && fault.at) view.reveal(scene.seen(place.metal, fault.at));
  else if (place) view.reveal(desk.choice.at());
  frame.scrollIntoView({ block: "nearest" });
}

// ---- buttons and forms

root.addEventListener("click", (event) => {
  const button = event.target.closest("button[type=button]");
  if (!button) return;
  const { deed, turn, nudge, other } = button.dataset;
  if (deed === "lay") desk.deeds.layIt();
  else if (deed === "tray") desk.deeds.toTray();
  else if (deed === "mirror") desk.deeds.mirror();
  else if (deed === "stay") desk.deeds.pin();
  else if (turn) desk.deeds.turnBy(Number(turn));
  else if (nudge) desk.push.nudge(...nudge.split(" ").map(Number), event.shiftKey ? 1 : 0.1);
  else if (other) desk.choice.next(Number(other));
});

// Forms that change the layout are sent from here; the others wait until everything is sent.
document.addEventListener("submit", (event) => {
  const form = event.target;
  if (event.defaultPrevented || form.method !== "post") return;
  if (form.matches("[data-undo-form]")) undo();
  else if (form.matches("[data-redo-form]")) redo();
  else if (form.closest("[data-place-form]")) {
    settle();
    const fields = Object.fromEntries([...new FormData(form, event.submitter)].filter(([name]) => !NOT_SENT.has(name)));
    lastTold = "";
    work.send({ to: "place", url: form.action, fields });
  } else if (form.closest("[data-parting]")) {
    settle();
    const fields = Object.fromEntries([...new FormData(form, event.submitter)].filter(([name]) => !NOT_SENT.has(name)));
    work.send({ to: "cuts", fields });
  } else if (desk.push.now || work.isBusy) {
    settle();
    waitsFor = () => form.requestSubmit(event.submitter);
  } else return;
  event.preventDefault();
}, true);

// ---- coming back

whenBack(async () => {
  if (work.isBusy || hand.pull || desk.push.now) return;
  const found = await freshState(state.urls.page);
  if (!found || work.isBusy || hand.pull || found.version <= state.version) return;
  work.adopt(found);
  judged();
  show();
  desk.say(words.say("elsewhere"));
});
addEventListener("pagehide", settle);
document.addEventListener("keyup", (event) => event.key === "Alt" && hand.pull && event.preventDefault());
addEventListener("resize", sizes);

desk.picture.sizes(1 / view.scale);
desk.picture.metal();
desk.marks.remark();
judged();
show();
warm(desk, () => Boolean(hand.down || desk.push.now));
work.sender.run();
