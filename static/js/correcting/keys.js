// The keyboard: with the picture in focus, and for undoing anywhere on the page. The keys that
// come nearer are in picture_view.js.

const ARROWS = { ArrowLeft: [-1, 0], ArrowRight: [1, 0], ArrowUp: [0, 1], ArrowDown: [0, -1] };

// `desk` has svg, work, choice, push, deeds, letGo().
export function keys(desk) {
  const { svg, work, choice, push, deeds } = desk;
  svg.setAttribute("tabindex", "0");
  svg.setAttribute("role", "application");
  svg.setAttribute("aria-label", "Lines of the pattern. Arrow keys go to the next line, Enter takes a point in hand; see Keys.");

  svg.addEventListener("keydown", (event) => {
    const arrow = ARROWS[event.key];
    if (event.ctrlKey || event.metaKey || event.altKey) return;
    if (arrow && choice.hasInHand) push.nudge(...arrow, event.shiftKey);
    else if (arrow) choice.next(arrow[0] + arrow[1] > 0 ? 1 : -1);
    else if (event.key === "Enter" && choice.line) {
      choice.holdsCircle = Boolean(choice.line.round);
      choice.hold(Math.max(choice.point, 0));
    } else if (event.key === "PageDown" && choice.line) choice.hold(choice.point + 1);
    else if (event.key === "PageUp" && choice.line) choice.hold(choice.point < 0 ? 0 : choice.point - 1);
    else if (event.key === "Insert") deeds.addPoint();
    else if (event.key === "Delete") deeds.removePoint();
    else if (event.key === "Escape") desk.letGo();
    else return;
    event.preventDefault();
  });

  document.addEventListener("keydown", (event) => {
    if (!(event.ctrlKey || event.metaKey) || event.altKey || event.target.closest("input, textarea")) return;
    const key = event.key.toLowerCase();
    if (key === "z" && !event.shiftKey) work.undo();
    else if (key === "y" || (key === "z" && event.shiftKey)) work.doAgain();
    else return;
    event.preventDefault();
  });
}
