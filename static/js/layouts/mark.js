/**
 * A teacher's remark points at a place: a tap on a picture puts a ring there, and its millimetres
 * into the form's field `at` ("layout|CU-1|12.5|8", "pattern||3|4"; y upwards). Choosing a piece in
 * the list takes the ring away again.
 */

const SVG = "http://www.w3.org/2000/svg";
const RADIUS = 0.035; // of the picture's longer side
const form = document.querySelector("[data-marks]");

function ringAt(svg, x, y) {
  const box = svg.viewBox.baseVal;
  const radius = RADIUS * Math.max(box.width, box.height);
  return ["d-mark d-mark-halo", "d-mark"].map((name) => {
    const ring = document.createElementNS(SVG, "circle");
    ring.setAttribute("class", name);
    ring.setAttribute("cx", x);
    ring.setAttribute("cy", y);
    ring.setAttribute("r", radius);
    ring.setAttribute("fill", "none");
    ring.dataset.tapped = "";
    return ring;
  });
}

function clear() {
  for (const ring of document.querySelectorAll("[data-tapped]")) ring.remove();
  form.elements.at.value = "";
}

function tapped(figure, svg, event) {
  if (event.target.closest("a")) return;
  const screen = svg.getScreenCTM();
  if (!screen) return;
  const spot = new DOMPoint(event.clientX, event.clientY).matrixTransform(screen.inverse());
  clear();
  svg.append(...ringAt(svg, spot.x, spot.y));
  const [left, top] = (figure.dataset.corner ?? "0 0").split(" ").map(Number);
  const place = [(left + spot.x).toFixed(2), (top - spot.y).toFixed(2)];
  form.elements.at.value = [figure.dataset.markable, figure.dataset.metal ?? "", ...place].join("|");
  form.elements.points_at.value = "";
}

if (form) {
  for (const figure of document.querySelectorAll("[data-markable]")) {
    for (const svg of figure.querySelectorAll("svg.drawing")) {
      if (svg.closest("ul.key")) continue;
      svg.classList.add("is-markable");
      svg.addEventListener("click", (event) => tapped(figure, svg, event));
    }
  }
  form.elements.points_at.addEventListener("change", clear);
}
