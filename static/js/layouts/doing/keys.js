// The keyboard: with the picture or a piece of the tray in focus, and for undoing anywhere on the
// page. Keys are initials of what they do, listed on the page; those that come nearer are in
// picture_view.js.

const ARROWS = { ArrowLeft: [-1, 0], ArrowRight: [1, 0], ArrowUp: [0, 1], ArrowDown: [0, -1] };
const STEP_MM = 1;
const FINE_MM = 0.1;
const FAR_MM = 10;

// `desk` has svg, tray, work, choice, push, deeds, parting (null without), letGo().
export function keys(desk) {
  const { svg, tray, choice, push, deeds } = desk;
  const done = {
    n: () => choice.next(1),
    p: () => choice.next(-1),
    l: () => deeds.layIt(),
    t: () => deeds.toTray(),
    m: () => deeds.mirror(),
    s: () => deeds.pin(),
    r: (back) => deeds.turnBy(back ? 15 : -15),
    q: (back) => deeds.turnBy(back ? 90 : -90),
    d: (back) => deeds.turnBy(back ? 1 : -1),
    u: () => desk.undo(),
    escape: () => desk.letGo(),
    delete: () => deeds.toTray(),
  };

  function typed(event) {
    if (event.altKey || event.metaKey) return;
    const arrow = ARROWS[event.key];
    const mm = event.ctrlKey ? FAR_MM : event.shiftKey ? FINE_MM : STEP_MM;
    if (desk.parting?.typed(event, arrow, mm)) {
      event.preventDefault();
      return;
    }
    if (arrow && choice.place) {
      push.nudge(...arrow, mm);
    } else if (!event.ctrlKey && done[event.key.toLowerCase()]) {
      done[event.key.toLowerCase()](event.shiftKey);
    } else {
      return;
    }
    event.preventDefault();
  }
  svg.addEventListener("keydown", typed);
  tray.list.addEventListener("keydown", typed);

  document.addEventListener("keydown", (event) => {
    if (!(event.ctrlKey || event.metaKey) || event.altKey || event.target.closest("input, textarea, select")) return;
    const key = event.key.toLowerCase();
    if (key === "z" && !event.shiftKey) desk.undo();
    else if (key === "y" || (key === "z" && event.shiftKey)) desk.redo();
    else return;
    event.preventDefault();
  });
}
