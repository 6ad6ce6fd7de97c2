// Looking more closely at the picture of a pattern that is being built. The server draws the
// picture anew at every change; where one looked is put on again.

import { PictureView } from "../picture_view.js";

const CLOSE = 1 / 3; // of the whole picture: from here on the hand places more finely

// `letGo` drops what a finger holds when a second one comes.
export function look(root, letGo) {
  const paper = () => root.querySelector("[data-paper]");

  function changed() {
    paper().classList.toggle("is-close", view.share <= CLOSE);
    keepSmall(paper());
    for (const tool of root.querySelectorAll("[data-look]")) tool.hidden = false;
  }

  // Numbers of findings stay as large as they are read; they would cover what one looks at.
  function keepSmall(svg) {
    for (const point of svg.querySelectorAll(".d-point")) {
      point.dataset.as ??= point.getAttribute("transform");
      point.setAttribute("transform", `${point.dataset.as} scale(${view.share})`);
    }
    for (const dot of svg.querySelectorAll(".d-place")) {
      dot.dataset.as ??= dot.getAttribute("r");
      dot.setAttribute("r", Number(dot.dataset.as) * view.share);
    }
  }

  // The buttons come nearer to the shape that is chosen.
  function middleOfChosen() {
    const box = paper()?.querySelector(".grip.is-chosen .grip-own")?.getBBox();
    if (!box || !(box.width + box.height > 0)) return null;
    return [box.x + box.width / 2, -(box.y + box.height / 2)];
  }

  // A handle, or a shape that the pointer moves: the chosen one, with a mouse any.
  function taken(event) {
    const moves = event.pointerType === "mouse" ? "[data-moves]" : ".is-chosen";
    return Boolean(event.target.closest(`[data-handle], ${moves}`));
  }

  const view = new PictureView(root, { picture: paper, anchor: middleOfChosen, taken, pinching: letGo, changed });
  document.addEventListener("building:renewed", () => view.renew());
  view.renew();
  return view;
}
