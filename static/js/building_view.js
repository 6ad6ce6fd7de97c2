// Looking more closely at the picture of a pattern that is being built. The server draws the
// picture anew at every change; where one looked is kept here and put on again.

const STEP = 1.5;
const NEAREST = 16; // times the whole picture
const CLOSE = 3; // from here on the hand places more finely

export function look(root) {
  let factor = 1;
  let centre = null; // millimetres, the middle of the paper is at 0, 0
  let whole = null;
  let pan = null; // { pointer, x, y } while the paper is pulled
  const fingers = new Map();

  const paper = () => root.querySelector("[data-paper]");

  function put() {
    const svg = paper();
    if (!svg) return;
    if (!svg.dataset.whole) svg.dataset.whole = svg.getAttribute("viewBox");
    const [x, y, width, height] = svg.dataset.whole.split(/[\s,]+/).map(Number);
    whole = { x, y, width, height };
    const size = { width: width / factor, height: height / factor };
    const held = (value, least, most) => Math.min(Math.max(value, least), most);
    centre ??= [x + width / 2, y + height / 2];
    centre = [
      held(centre[0], x + size.width / 2, x + width - size.width / 2),
      held(centre[1], y + size.height / 2, y + height - size.height / 2),
    ];
    svg.setAttribute("viewBox", [centre[0] - size.width / 2, centre[1] - size.height / 2, size.width, size.height].join(" "));
    svg.classList.toggle("is-near", factor > 1);
    svg.classList.toggle("is-close", factor >= CLOSE);
    keepSmall(svg);
    for (const tool of root.querySelectorAll("[data-look]")) {
      tool.hidden = false;
      for (const button of tool.querySelectorAll("button")) {
        button.disabled = button.dataset.zoom === "in" ? factor >= NEAREST : factor <= 1;
      }
    }
  }

  // Numbers of findings stay as large as they are read; they would cover what one looks at.
  function keepSmall(svg) {
    for (const point of svg.querySelectorAll(".d-point")) {
      point.dataset.as ??= point.getAttribute("transform");
      point.setAttribute("transform", `${point.dataset.as} scale(${1 / factor})`);
    }
    for (const dot of svg.querySelectorAll(".d-place")) {
      dot.dataset.as ??= dot.getAttribute("r");
      dot.setAttribute("r", Number(dot.dataset.as) / factor);
    }
  }

  // `at` (millimetres as the picture has them) stays where it is.
  function zoom(by, at = middleOfChosen() ?? centre) {
    const before = factor;
    factor = Math.min(Math.max(factor * by, 1), NEAREST);
    if (factor < 1.02) factor = 1;
    const share = before / factor;
    centre = [at[0] + (centre[0] - at[0]) * share, at[1] + (centre[1] - at[1]) * share];
    put();
  }

  // The buttons come nearer to the shape that is chosen; what lies far off is brought in.
  function middleOfChosen() {
    const box = paper()?.querySelector(".grip.is-chosen .grip-own")?.getBBox();
    if (!box || !(box.width + box.height > 0)) return null;
    const at = [box.x + box.width / 2, box.y + box.height / 2];
    if (factor === 1) return at;
    const inside = (value, middle, size) => Math.abs(value - middle) < size / factor / 2;
    return inside(at[0], centre[0], whole.width) && inside(at[1], centre[1], whole.height) ? at : null;
  }

  function place(x, y) {
    const at = new DOMPoint(x, y).matrixTransform(paper().getScreenCTM().inverse());
    return [at.x, at.y];
  }

  function all() {
    factor = 1;
    centre = null;
    put();
  }

  root.addEventListener("click", (event) => {
    const button = event.target.closest("[data-zoom]");
    if (!button) return;
    if (button.dataset.zoom === "whole") all();
    else zoom(button.dataset.zoom === "in" ? STEP : 1 / STEP);
  });

  root.addEventListener("wheel", (event) => {
    if (!event.ctrlKey || !event.target.closest("[data-paper]")) return;
    event.preventDefault();
    zoom(event.deltaY < 0 ? 1.2 : 1 / 1.2, place(event.clientX, event.clientY));
  }, { passive: false });

  root.addEventListener("keydown", (event) => {
    if (!event.target.closest("[data-paper]") || event.ctrlKey || event.metaKey || event.altKey) return;
    if (event.key === "+" || event.key === "=") zoom(STEP);
    else if (event.key === "-") zoom(1 / STEP);
    else if (event.key === "0") all();
    else return;
    event.preventDefault();
  });

  // Empty paper is pulled by mouse or finger; two fingers come nearer or go further away.
  root.addEventListener("pointerdown", (event) => {
    if (factor === 1 || event.button !== 0 || !event.target.closest("[data-paper]")) return;
    if (event.pointerType === "touch") fingers.set(event.pointerId, [event.clientX, event.clientY]);
    const taken = event.target.closest("[data-handle]") ?? event.target.closest(event.pointerType === "mouse" ? "[data-moves]" : ".is-chosen");
    if (taken || !event.isPrimary) return;
    pan = { pointer: event.pointerId, x: event.clientX, y: event.clientY };
  });

  root.addEventListener("pointermove", (event) => {
    if (fingers.has(event.pointerId)) {
      const other = [...fingers].find(([pointer]) => pointer !== event.pointerId)?.[1];
      const before = fingers.get(event.pointerId);
      const now = [event.clientX, event.clientY];
      fingers.set(event.pointerId, now);
      if (other) {
        const apart = (one) => Math.max(20, Math.hypot(one[0] - other[0], one[1] - other[1]));
        zoom(apart(now) / apart(before), place((now[0] + other[0]) / 2, (now[1] + other[1]) / 2));
        pan = null;
        return;
      }
    }
    if (pan?.pointer !== event.pointerId) return;
    const [x, y] = place(event.clientX, event.clientY);
    const [fromX, fromY] = place(pan.x, pan.y);
    centre = [centre[0] - (x - fromX), centre[1] - (y - fromY)];
    Object.assign(pan, { x: event.clientX, y: event.clientY });
    put();
  });

  function letGo(event) {
    fingers.delete(event.pointerId);
    if (pan?.pointer === event.pointerId) pan = null;
  }
  addEventListener("pointerup", letGo);
  addEventListener("pointercancel", letGo);

  document.addEventListener("building:renewed", put);
  put();
}
