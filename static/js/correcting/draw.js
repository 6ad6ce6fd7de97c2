// Draws lines, gaps, handles and the findings' numbers into the picture. Sizes on the screen stay
// the same however near one looks: everything is laid out for `px`, the millimetres of one pixel.

import { gripped, middle, size, way } from "./lines.js";

const SVG = "http://www.w3.org/2000/svg";
const DRILLED = new Set(["ring", "rivet", "pilot"]);
const STOP = "M-.41-1H.41L1-.41V.41L.41 1H-.41L-1 .41V-.41Z";
const CAUTION = "M0-1.15 1.15.95H-1.15Z";

function made(name, attributes = {}, ...inside) {
  const element = document.createElementNS(SVG, name);
  for (const [key, value] of Object.entries(attributes)) element.setAttribute(key, value);
  element.append(...inside);
  return element;
}

function cross(line, px) {
  const [x, y] = middle(line);
  const reach = (line.round?.[2] ?? 0) / 2 + 5 * px;
  return `M${x - reach} ${-y}H${x + reach}M${x} ${-y - reach}V${-y + reach}`;
}

// All lines, the large ones below the small, so that the small can be tapped.
export function drawLines(box, lines, labels, chosen, px) {
  const order = [...lines.values()].sort((a, b) => size(b) - size(a));
  const links = order.map((line) => {
    const label = labels[line.id]?.label ?? "";
    const path = way(line);
    const words = labels[line.id]?.now ?? "";
    const link = made(
      "a",
      {
        class: `pick cl cl-${label}${line.id === chosen ? " is-chosen" : ""}`,
        href: `?line=${encodeURIComponent(line.id)}#line-panel`,
        "data-line": line.id,
        "aria-label": `Line ${line.id}, ${words}`,
        tabindex: "-1",
      },
      made("path", { class: "pick-hit", d: path }),
      made("path", { class: "cl-seen", d: path }),
    );
    if (DRILLED.has(label)) link.append(made("path", { class: "d-cross", d: cross(line, px) }));
    return link;
  });
  box.replaceChildren(...links);
}

// One line anew while it is pulled about.
export function redrawLine(box, line, px) {
  const link = box.querySelector(`[data-line="${CSS.escape(line.id)}"]`);
  if (!link) return;
  const path = way(line);
  for (const part of link.querySelectorAll(".pick-hit, .cl-seen")) part.setAttribute("d", path);
  link.querySelector(".d-cross")?.setAttribute("d", cross(line, px));
}

export function drawGaps(box, gaps, px) {
  box.replaceChildren(
    ...gaps.map((gap) => {
      const [x, y] = [(gap.at[0] + gap.to[0]) / 2, -(gap.at[1] + gap.to[1]) / 2];
      return made(
        "g",
        { class: "gap", "data-gap": gap.ends },
        made("title", {}, `Close ${gap.words}`),
        made("path", { class: "d-gap", d: `M${gap.at[0]} ${-gap.at[1]}L${gap.to[0]} ${-gap.to[1]}` }),
        made("circle", { class: "gap-hit", cx: x, cy: y, r: 20 * px }),
        made("circle", { class: "gap-mark", cx: x, cy: y, r: 9 * px }),
        made("path", { class: "gap-sign", d: `M${x - 5 * px} ${y}h${10 * px}m${-3 * px} ${-3 * px}l${3 * px} ${3 * px}l${-3 * px} ${3 * px}M${x - 2 * px} ${y - 3 * px}l${-3 * px} ${3 * px}l${3 * px} ${3 * px}` }),
      );
    }),
  );
}

// Handles of the chosen line: its points, or the middle of a circle. `room` in pixels.
export function drawHandles(box, line, point, px, room) {
  if (!line) {
    box.replaceChildren();
    return;
  }
  const places = line.round
    ? [{ index: -1, at: middle(line) }]
    : gripped(line, room * px, point).map((index) => ({ index, at: line.points[index] }));
  box.replaceChildren(
    ...places.map(({ index, at }) => {
      const here = index === point || index === -1;
      const end = !line.closed && (index === 0 || index === line.points.length - 1);
      const [x, y] = [at[0], -at[1]];
      const half = (here ? 7 : 5) * px;
      const seen = end
        ? made("rect", { class: "grip", x: x - half, y: y - half, width: 2 * half, height: 2 * half })
        : made("circle", { class: "grip", cx: x, cy: y, r: half });
      return made(
        "g",
        { class: here ? "grips is-here" : "grips", "data-index": index },
        made("circle", { class: "grip-hit", cx: x, cy: y, r: (room / 2 + 4) * px }),
        seen,
      );
    }),
  );
}

// The same handles in their places now. They are not made anew: a finger that holds one would
// lose it with its element.
export function shiftHandles(box, line, point, px) {
  for (const handle of box.children) {
    const index = Number(handle.dataset.index);
    const at = index < 0 ? middle(line) : line.points[index];
    if (!at) continue; // two points pulled onto each other are one: the line has fewer now
    const here = index === point || index === -1;
    const half = (here ? 7 : 5) * px;
    handle.classList.toggle("is-here", here);
    for (const part of handle.children) {
      if (part.nodeName === "rect") {
        const box = { x: at[0] - half, y: -at[1] - half, width: 2 * half, height: 2 * half };
        for (const [key, value] of Object.entries(box)) part.setAttribute(key, value);
      } else {
        part.setAttribute("cx", at[0]);
        part.setAttribute("cy", -at[1]);
        if (part.classList.contains("grip")) part.setAttribute("r", half);
      }
    }
  }
}

// Findings where the server put them for the whole drawing, as large as they were there.
export function drawPoints(box, points, nearness) {
  const leaders = [];
  const signs = [];
  for (const point of points) {
    const x = point.dot_x + (point.x - point.dot_x) * nearness;
    const y = point.dot_y + (point.y - point.dot_y) * nearness;
    const r = point.r * nearness;
    leaders.push(
      made("path", { class: "d-leader", d: `M${x} ${y}L${point.dot_x} ${point.dot_y}` }),
      made("circle", { class: "d-place", cx: point.dot_x, cy: point.dot_y, r: 0.22 * r }),
    );
    const stop = point.weight === "stop";
    const text = made(
      "text",
      { y: stop ? 0.38 : 0.72, "font-size": stop ? 1.1 : 1, "text-anchor": "middle", "font-weight": 700 },
      String(point.number),
    );
    const sign = made(
      "g",
      { class: `d-point d-point-${point.weight}`, transform: `translate(${x} ${y}) scale(${r})` },
      made("path", { d: stop ? STOP : CAUTION }),
      text,
    );
    const words = `${stop ? "Stop" : "Caution"} ${point.number}`;
    signs.push(made("a", { href: `#finding-${point.number}`, "aria-label": words, tabindex: "-1" }, sign));
  }
  box.replaceChildren(...leaders, ...signs);
}

// The magnified view beside a finger: an eighth of what is seen, at most two centimetres.
// `scene` are the picture's own parts; they are copied when the pull begins.
export function fillGlass(glass, ...scene) {
  const copies = scene.filter(Boolean).map((part) => part.cloneNode(true));
  glass.replaceChildren(...copies, made("path", { class: "glass-cross" }));
}

export function showGlass(glass, line, at, width, toTheRight) {
  const wide = Math.max(2, Math.min(width / 8, 20));
  const [x, y] = [at[0], -at[1]];
  glass.setAttribute("viewBox", `${x - wide / 2} ${y - wide / 2} ${wide} ${wide}`);
  glass.querySelector(".glass-cross").setAttribute(
    "d",
    `M${x - wide / 2} ${y}h${wide * 0.42}m${wide * 0.16} 0h${wide * 0.42}M${x} ${y - wide / 2}v${wide * 0.42}m0 ${wide * 0.16}v${wide * 0.42}`,
  );
  redrawLine(glass, line, wide / 128);
  glass.classList.toggle("is-right", toTheRight);
  glass.removeAttribute("hidden");
}
