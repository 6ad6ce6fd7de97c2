// Taking hold of shapes: by mouse, finger and keyboard. What the hand did is sent as numbers; until
// the answer comes, only the outline that is held moves.

const SNAP_MM = 0.5;
const CLOSE_SNAP_MM = 0.1; // where one looks closely
const STEP_MM = 0.5;
const LONG_STEP_MM = 5;
const STEP_DEGREES = 1;
const LONG_STEP_DEGREES = 15;
const REST_MS = 350; // keys pressed within this time are one change
const TAP_PX = 4;

const round = (value, step) => Math.round(value / step) * step;
const short = (value) => String(Math.round(value * 100) / 100);
const ARROWS = { ArrowLeft: [-1, 0], ArrowRight: [1, 0], ArrowUp: [0, 1], ArrowDown: [0, -1] };

// `send`, `choose` and `tell` are the page's; `at` gives a pointer's place in millimetres, y upwards.
// What comes back lets go of what is held, as if it had not been taken.
export function handle(root, { send, choose, tell, at }) {
  let held = null; // a drag under way
  let keyed = null; // arrow keys not yet sent
  let justDragged = false;

  const paper = () => root.querySelector("[data-paper]");
  const readout = (text) => { root.querySelector("[data-readout]").textContent = text; };
  const grip = (id) => root.querySelector(`#grip-${CSS.escape(id)}`);
  const place = (thing) => ({ x: Number(thing.dataset.atX), y: Number(thing.dataset.atY) });

  // Lengths in the unit that the school reads.
  const unit = () => root.querySelector("[data-units]").dataset.units;
  const bare = (mm) => (unit() === "in" ? String(Math.round((mm / 25.4) * 1000) / 1000) : short(mm));
  const told = (mm) => `${bare(mm)} ${unit()}`;

  function point(event) {
    const [x, y] = at(event);
    return { x, y: -y };
  }

  // The numbers of the form that grow with the size handle, each with how it does.
  function sizes() {
    const inputs = [...root.querySelectorAll("[data-numbers] [data-grows]")];
    return inputs.map((input) => ({ name: input.name, how: input.dataset.grows, mm: millimetres(input.value) }));
  }

  function millimetres(text) {
    const number = Number.parseFloat(text.replace(",", "."));
    return /in|"/.test(text) ? number * 25.4 : number;
  }

  function show(id, transform) {
    const own = grip(id)?.querySelector(".grip-own");
    if (!own) return;
    own.parentElement.classList.toggle("is-held", Boolean(transform));
    if (transform) own.setAttribute("transform", transform);
    else own.removeAttribute("transform");
  }

  function moveTo(id, x, y) {
    send({ deed: "set", item: id, "f-x": `${short(x)} mm`, "f-y": `${short(y)} mm` });
  }

  function turnTo(id, degrees) {
    const whole = ((degrees + 180) % 360 + 360) % 360 - 180;
    send({ deed: "set", item: id, "f-turn": short(whole) });
  }

  function sizeBy(id, fields, factor) {
    const content = { deed: "set", item: id };
    for (const field of fields) {
      const by = field.how === "x" ? factor.x : field.how === "y" ? factor.y : factor.both;
      content[field.name] = `${short(Math.max(0.5, round(field.mm * by, 0.1)))} mm`;
    }
    send(content);
  }

  // From the pointer's place, seen from the shape's own point and in the shape's own direction.
  function local(at, about, degrees) {
    const angle = (degrees * Math.PI) / 180;
    const x = at.x - about.x;
    const y = -(at.y - about.y);
    return { x: x * Math.cos(angle) + y * Math.sin(angle), y: -x * Math.sin(angle) + y * Math.cos(angle) };
  }

  function factors() {
    const now = local(held.now, held.about, held.angle);
    const then = local(held.start, held.about, held.angle);
    const share = (one, other) => Math.min(20, Math.max(0.05, Math.abs(one) / Math.max(0.2, Math.abs(other))));
    const wide = held.fields.some((field) => field.how === "x");
    const both = share(Math.hypot(now.x, now.y), Math.hypot(then.x, then.y));
    return wide ? { x: share(now.x, then.x), y: share(now.y, then.y), both } : { x: both, y: both, both };
  }

  function turned() {
    const angle = (at) => Math.atan2(-(at.y - held.about.y), at.x - held.about.x);
    const by = ((angle(held.now) - angle(held.start)) * 180) / Math.PI;
    return round(held.angle + by, held.fine ? 1 : 5);
  }

  function preview() {
    const { x, y } = held.about;
    if (held.what === "move") {
      const to = target();
      show(held.id, `translate(${to.x - x} ${-to.y - y})`);
      readout(`right ${told(to.x)}, up ${told(to.y)}`);
    } else if (held.what === "turn") {
      show(held.id, `rotate(${-(turned() - held.angle)} ${x} ${y})`);
      readout(`turned by ${short(turned())}°`);
    } else {
      const by = factors();
      const frame = `translate(${x} ${y}) rotate(${-held.angle})`;
      const back = `rotate(${held.angle}) translate(${-x} ${-y})`;
      show(held.id, `${frame} scale(${by.x} ${by.y}) ${back}`);
      readout(held.fields.map((field) => told(round(field.mm * (field.how === "y" ? by.y : by.x), 0.1))).join(" × "));
    }
  }

  function target() {
    const usual = paper().classList.contains("is-close") ? CLOSE_SNAP_MM : SNAP_MM;
    const snap = held.fine ? 0.05 : usual;
    return {
      x: round(held.about.x + held.now.x - held.start.x, snap),
      y: round(-(held.about.y + held.now.y - held.start.y), snap),
    };
  }

  function begin(event) {
    if (event.button !== 0 || held || !event.isPrimary) return;
    const knob = event.target.closest("[data-handle]");
    const own = event.target.closest(".grip-own");
    const shape = own?.closest("[data-moves]");
    const chosen = root.querySelector("[data-numbers]")?.dataset.item;
    const hands = root.querySelector("[data-handles]");
    let id = chosen;
    let what = knob?.dataset.handle;
    if (!knob) {
      // A finger on a shape that is not chosen scrolls the page; a tap chooses the shape.
      if (!shape || (event.pointerType !== "mouse" && !shape.classList.contains("is-chosen"))) return;
      id = shape.dataset.choose;
      what = "move";
    }
    const start = point(event);
    const about = place(knob ? hands : shape);
    const angle = knob ? Number(hands.dataset.angle) : 0;
    held = { id, what, about, angle, start, now: start, fields: sizes(), pointer: event.pointerId, x: event.clientX, y: event.clientY, moved: false, fine: event.altKey };
    paper().setPointerCapture(event.pointerId);
    event.preventDefault();
    (knob ?? shape).focus({ preventScroll: true });
  }

  function drag(event) {
    if (!held || event.pointerId !== held.pointer) return;
    const far = Math.hypot(event.clientX - held.x, event.clientY - held.y) > TAP_PX;
    if (!held.moved && !far) return;
    held.moved = true;
    held.fine = event.altKey;
    held.now = point(event);
    preview();
  }

  function drop(event) {
    if (!held || event.pointerId !== held.pointer) return;
    const { id, what, moved } = held;
    if (!moved) {
      held = null;
      if (what === "move") choose(id);
      return;
    }
    justDragged = true;
    setTimeout(() => { justDragged = false; }, 0);
    if (what === "move") moveTo(id, target().x, target().y);
    else if (what === "turn") turnTo(id, turned());
    else sizeBy(id, held.fields, factors());
    held = null;
  }

  function letGo() {
    if (!held) return;
    show(held.id, "");
    readout("");
    held = null;
  }

  // Keys that follow one another quickly are added up and sent together.
  function key(id, what, by) {
    if (keyed && (keyed.id !== id || keyed.what !== what)) flush();
    keyed ??= { id, what, x: 0, y: 0 };
    keyed.x += by[0];
    keyed.y += by[1];
    clearTimeout(keyed.timer);
    keyed.timer = setTimeout(flush, REST_MS);
    showKeyed();
  }

  function showKeyed() {
    const shape = keyed && grip(keyed.id);
    if (!shape) return;
    const about = place(shape);
    if (keyed.what === "move") {
      show(keyed.id, `translate(${keyed.x} ${-keyed.y})`);
      readout(`right ${told(about.x + keyed.x)}, up ${told(-about.y + keyed.y)}`);
    } else if (keyed.what === "turn") {
      const angle = Number(root.querySelector("[data-handles]").dataset.angle);
      show(keyed.id, `rotate(${-keyed.x} ${about.x} ${about.y})`);
      readout(`turned by ${short(angle + keyed.x)}°`);
    } else {
      const by = keyedFactor(keyed, sizes());
      show(keyed.id, `translate(${about.x} ${about.y}) scale(${by}) translate(${-about.x} ${-about.y})`);
      readout(sizes().map((field) => told(field.mm * by)).join(" × "));
    }
  }

  function keyedFactor(keys, fields) {
    const largest = Math.max(0.5, ...fields.map((field) => field.mm));
    return Math.max(0.5, largest + keys.x) / largest;
  }

  function flush() {
    if (!keyed) return;
    const keys = keyed;
    clearTimeout(keys.timer);
    keyed = null;
    send(() => {
      const shape = grip(keys.id);
      if (!shape) return null;
      const about = place(shape);
      const content = { deed: "set", item: keys.id };
      if (keys.what === "move") {
        content["f-x"] = `${short(about.x + keys.x)} mm`;
        content["f-y"] = `${short(-about.y + keys.y)} mm`;
      } else if (keys.what === "turn") {
        const angle = Number(root.querySelector("[data-handles]").dataset.angle);
        content["f-turn"] = short((((angle + keys.x + 180) % 360) + 360) % 360 - 180);
      } else {
        const by = keyedFactor(keys, sizes());
        for (const field of sizes()) content[field.name] = `${short(field.mm * by)} mm`;
      }
      return content;
    });
  }

  function onKey(event) {
    if (event.key === "Escape" && held) {
      letGo();
      return;
    }
    const shape = event.target.closest?.("[data-moves]");
    const knob = event.target.closest?.("[data-handle]");
    const step = ARROWS[event.key];
    if (step && (shape || knob) && !event.ctrlKey && !event.metaKey) {
      event.preventDefault();
      const chosen = root.querySelector("[data-numbers]")?.dataset.item;
      if (shape) {
        const by = event.shiftKey ? LONG_STEP_MM : STEP_MM;
        key(shape.dataset.choose, "move", [step[0] * by, step[1] * by]);
      } else {
        const turning = knob.dataset.handle === "turn";
        const long = turning ? LONG_STEP_DEGREES : LONG_STEP_MM;
        const by = event.shiftKey ? long : turning ? STEP_DEGREES : STEP_MM;
        // Right and down turn clockwise; right and up make larger.
        const sign = turning ? -step[0] + step[1] : step[0] + step[1];
        key(chosen, knob.dataset.handle, [sign * by, 0]);
      }
    } else if ((event.key === "Delete" || event.key === "Backspace") && shape) {
      event.preventDefault();
      send({ deed: "remove", item: shape.dataset.choose });
      tell("Removing…");
    }
  }

  // A finger on the chosen shape or on a handle moves that, not the page; not every browser heeds
  // touch-action inside a picture.
  root.addEventListener("touchstart", (event) => {
    if (event.touches.length === 1 && event.target.closest(".is-chosen .grip-own, [data-handle]")) {
      event.preventDefault();
    }
  }, { passive: false });
  root.addEventListener("pointerdown", begin);
  root.addEventListener("pointermove", drag);
  root.addEventListener("pointerup", drop);
  root.addEventListener("pointercancel", letGo);
  root.addEventListener("keydown", onKey);
  root.addEventListener("focusout", flush);
  // The browser's own dragging of links, and the click that ends a drag.
  root.addEventListener("dragstart", (event) => event.preventDefault());
  root.addEventListener("click", (event) => {
    if (justDragged && event.target.closest("[data-choose], [data-paper]")) {
      event.preventDefault();
      event.stopImmediatePropagation();
    }
  }, true);
  // Keys pressed while an answer came in still show on the renewed picture.
  document.addEventListener("building:renewed", showKeyed);
  return { letGo };
}
