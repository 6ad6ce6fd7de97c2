// Marking a thing of known size in a photo. The marks are links between the picture and the
// number fields below it: whoever moves a mark writes numbers, whoever types numbers moves it.
// Without this module the fields do the same job.

const form = document.querySelector("[data-marking]");
const SVG = "http://www.w3.org/2000/svg";

if (form) {
  const things = JSON.parse(document.getElementById("known-things").textContent);
  const stage = form.querySelector("[data-stage]");
  const layer = form.querySelector("[data-marks]");
  const lens = form.querySelector("[data-lens]");
  const said = form.querySelector("[data-said]");
  const thing = form.elements.namedItem("thing");
  const { width, height } = stage.viewBox.baseVal;
  const photo = new Image();
  let kind = "";
  let names = [];
  let marks = [];
  let chosen = 0;
  let shape = null;

  const field = (axis, index) => form.elements.namedItem(`${axis}${index + 1}`);
  const within = (value, most) => Math.min(Math.max(value, 0), most);
  const dot = () => 1 / stage.getScreenCTM().a; // dots of the photo in a pixel

  function start() {
    const one = things.find((each) => each.code === thing.value);
    form.querySelector("[data-for-length]").hidden = one.kind !== "length";
    for (const set of form.querySelectorAll("[data-number]")) {
      const index = Number(set.dataset.number) - 1;
      set.hidden = index >= one.marks.length;
      if (!set.hidden) set.querySelector("[data-name]").textContent = one.marks[index];
    }
    if (one.kind === kind) return;
    kind = one.kind;
    names = one.marks;
    const typed = names.map((_, index) => [field("x", index), field("y", index)]);
    const whole = typed.every((pair) => pair.every((each) => each.value !== ""));
    marks = whole && !layer.childElementCount
      ? typed.map((pair) => pair.map((each) => Number(each.value)))
      : beginning(one);
    for (const [axis, index] of ["x", "y"].flatMap((axis) => [0, 1, 2, 3].map((k) => [axis, k]))) {
      if (index >= names.length && field(axis, index)) field(axis, index).value = "";
    }
    chosen = 0;
    build();
  }

  function beginning(one) {
    const [x, y] = [width / 2, height / 2];
    const reach = 0.28 * Math.min(width, height);
    if (one.kind === "coin") return [[x, y], [x + 0.5 * reach, y]];
    if (one.kind === "length") return [[x - reach, y], [x + reach, y]];
    const down = reach / one.aspect;
    return [[x - reach, y - down], [x + reach, y - down], [x + reach, y + down], [x - reach, y + down]];
  }

  function add(name, parent, attributes) {
    const made = document.createElementNS(SVG, name);
    for (const [key, value] of Object.entries(attributes)) made.setAttribute(key, value);
    parent.append(made);
    return made;
  }

  function build() {
    layer.replaceChildren();
    const of = { card: "polygon", coin: "circle", length: "line" }[kind];
    add(of, layer, { class: "mark-under" });
    shape = add(of, layer, { class: "mark-shape" });
    shape.addEventListener("pointerdown", (event) => drag(event, null));
    names.forEach((name, index) => {
      const mark = add("g", layer, { class: "mark", tabindex: "0", role: "button", "aria-describedby": "marking-how" });
      add("circle", mark, { class: "mark-hit" });
      add("path", mark, { class: "mark-halo" });
      add("path", mark, { class: "mark-dot" });
      mark.addEventListener("pointerdown", (event) => drag(event, index));
      mark.addEventListener("keydown", (event) => key(event, index));
      mark.addEventListener("focus", () => choose(index));
      mark.addEventListener("blur", () => { lens.hidden = true; });
    });
    draw();
  }

  function draw() {
    const scale = dot();
    for (const each of layer.querySelectorAll(".mark-under, .mark-shape")) {
      const [first, second] = marks;
      if (kind === "card") each.setAttribute("points", marks.map((at) => at.join(",")).join(" "));
      if (kind === "coin") {
        each.setAttribute("cx", first[0]);
        each.setAttribute("cy", first[1]);
        each.setAttribute("r", Math.hypot(second[0] - first[0], second[1] - first[1]));
      }
      if (kind === "length") {
        [["x1", first[0]], ["y1", first[1]], ["x2", second[0]], ["y2", second[1]]]
          .forEach(([name, value]) => each.setAttribute(name, value));
      }
    }
    layer.querySelectorAll(".mark").forEach((mark, index) => {
      const [x, y] = marks[index];
      const arm = 11 * scale;
      mark.classList.toggle("is-chosen", index === chosen);
      mark.setAttribute("aria-label", `${names[index]}, ${Math.round(x)} from the left, ${Math.round(y)} from above`);
      const hit = mark.querySelector(".mark-hit");
      [["cx", x], ["cy", y], ["r", 22 * scale]].forEach(([name, value]) => hit.setAttribute(name, value));
      // An open cross: the very place that is marked stays to be seen.
      const path = `M${x - arm} ${y}h${arm * 0.7}M${x + arm} ${y}h${-arm * 0.7}M${x} ${y - arm}v${arm * 0.7}M${x} ${y + arm}v${-arm * 0.7}`;
      mark.querySelector(".mark-halo").setAttribute("d", path);
      mark.querySelector(".mark-dot").setAttribute("d", path);
      field("x", index).value = x.toFixed(1);
      field("y", index).value = y.toFixed(1);
    });
  }

  function choose(index) {
    chosen = index;
    draw();
    look();
  }

  function move(index, x, y) {
    marks[index] = [within(x, width), within(y, height)];
    draw();
    look();
  }

  function look() {
    const [x, y] = marks[chosen];
    said.textContent = `${names[chosen]}: ${Math.round(x)}, ${Math.round(y)}`;
    if (!photo.naturalWidth) return;
    const shrunk = photo.naturalWidth / width;
    const pen = lens.getContext("2d");
    const seen = Math.max(24, 44 * dot() * shrunk); // dots of the small picture across the lens
    pen.imageSmoothingEnabled = false;
    pen.clearRect(0, 0, lens.width, lens.height);
    pen.drawImage(photo, x * shrunk - seen / 2, y * shrunk - seen / 2, seen, seen, 0, 0, lens.width, lens.height);
    pen.lineWidth = 2;
    for (const [colour, shift] of [["#fff", 1.5], ["#000", 0]]) {
      pen.strokeStyle = colour;
      pen.beginPath();
      const middle = lens.width / 2 + shift;
      for (const [from, to] of [[0, 0.42], [0.58, 1]]) {
        pen.moveTo(from * lens.width, middle);
        pen.lineTo(to * lens.width, middle);
        pen.moveTo(middle, from * lens.width);
        pen.lineTo(middle, to * lens.width);
      }
      pen.stroke();
    }
    lens.dataset.side = x > width / 2 ? "left" : "right";
    lens.hidden = false;
  }

  function drag(event, index) {
    if (event.button) return;
    event.preventDefault();
    const target = event.currentTarget;
    target.setPointerCapture(event.pointerId);
    const from = [event.clientX, event.clientY];
    const begun = marks.map((at) => [...at]);
    if (index !== null) {
      target.focus({ preventScroll: true });
      choose(index);
    }
    const follow = (moved) => {
      const [dx, dy] = [(moved.clientX - from[0]) * dot(), (moved.clientY - from[1]) * dot()];
      if (index === null || (kind === "coin" && index === 0)) {
        marks = begun.map(([x, y]) => [within(x + dx, width), within(y + dy, height)]);
        draw();
        if (index !== null) look();
      } else {
        move(index, begun[index][0] + dx, begun[index][1] + dy);
      }
    };
    const end = () => {
      target.removeEventListener("pointermove", follow);
      if (event.pointerType !== "mouse" || index === null) lens.hidden = true;
    };
    target.addEventListener("pointermove", follow);
    target.addEventListener("pointerup", end, { once: true });
    target.addEventListener("pointercancel", end, { once: true });
  }

  const WAYS = { ArrowLeft: [-1, 0], ArrowRight: [1, 0], ArrowUp: [0, -1], ArrowDown: [0, 1] };

  function key(event, index) {
    const way = WAYS[event.key];
    if (!way) return;
    event.preventDefault();
    step(index, way, event.shiftKey);
  }

  function step(index, way, far) {
    const by = Math.max(1, dot()) * (far ? 10 : 1);
    move(index, marks[index][0] + way[0] * by, marks[index][1] + way[1] * by);
  }

  for (const button of form.querySelectorAll("[data-nudge]")) {
    const way = button.dataset.nudge.split(" ").map(Number);
    button.addEventListener("click", (event) => step(chosen, way, event.shiftKey));
  }
  form.addEventListener("input", (event) => {
    const found = /^([xy])([1-4])$/.exec(event.target.name);
    if (!found || event.target.value === "") return;
    const index = Number(found[2]) - 1;
    marks[index][found[1] === "x" ? 0 : 1] = Number(event.target.value);
    const kept = event.target.value;
    draw();
    event.target.value = kept;
  });
  thing.addEventListener("change", start);
  window.addEventListener("resize", draw);
  photo.addEventListener("load", draw);
  photo.src = form.querySelector("[data-picture]").getAttribute("href");
  form.querySelector("[data-tools]").hidden = false;
  start();
}
