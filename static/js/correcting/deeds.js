// What can be done with the line that is chosen, and the forms beside the picture that ask for it.

import { distance, middle } from "./lines.js";

export class Deeds {
  // `desk` has root, work, choice, panel, refuse(words).
  constructor(desk) {
    this.desk = desk;
    for (const form of desk.root.querySelectorAll("[data-change-form]")) {
      form.addEventListener("submit", (event) => this.pressed(event));
    }
  }

  addPoint() {
    const { work, choice } = this.desk;
    const here = choice.line;
    if (!here || here.round) return;
    const index = Math.max(choice.point, 0);
    const next = here.points[index + 1] ?? (here.closed ? here.points[0] : null);
    const after = next ? index : index - 1;
    const [a, b] = [here.points[after], here.points[(after + 1) % here.points.length]];
    work.change({ do: "add-point", line: here.id, after, at: [(a[0] + b[0]) / 2, (a[1] + b[1]) / 2] });
    choice.hold(after + 1);
  }

  removePoint() {
    const { work, choice } = this.desk;
    const here = choice.line;
    if (!here || here.round || choice.point < 0) return;
    work.change({ do: "remove-point", line: here.id, index: choice.point });
  }

  moveTo(at) {
    const { work, choice, panel } = this.desk;
    const here = choice.line;
    if (!here) return;
    if (here.round) {
      const [x, y] = middle(here);
      work.change({ do: "move-line", line: here.id, by: [at[0] - x, at[1] - y] });
      return;
    }
    const index = Math.max(choice.point, 0);
    const from = here.points[index];
    const reach = panel.reach(here, index, from ? distance(from, at) : 0);
    work.change({ do: "move-point", line: here.id, index, to: at, reach_mm: reach });
  }

  // `gap` names two ends: "7|last|9|first".
  join(gap) {
    const [first, end, other, otherEnd] = gap.split("|");
    this.desk.work.change({ do: "join", line: first, end, other, other_end: otherEnd });
    this.desk.choice.choose(first);
  }

  newHole(at) {
    this.desk.work.change({ do: "new-hole", at, diameter_mm: this.desk.panel.drill });
  }

  // ---- the forms

  pressed(event) {
    const form = event.target;
    const asked = { name: this.named, diameter: this.across, point: this.pointed, join: this.joined, "new-hole": this.byNumbers };
    event.preventDefault();
    asked[form.dataset.changeForm].call(this, form, event.submitter);
  }

  named(form, button) {
    const { work, choice } = this.desk;
    work.change({ do: "name", labels: { [choice.id]: button.value } });
  }

  across(form) {
    const { work, choice, refuse } = this.desk;
    const size = value(form, "diameter").trim() ? this.typed(form, "diameter") : Number(value(form, "drill"));
    if (!(size > 0)) refuse("Choose a drill, or type the diameter.");
    else work.change({ do: "diameter", line: choice.id, diameter_mm: size });
  }

  pointed(form, button) {
    const { choice, refuse, work } = this.desk;
    const number = Number(value(form, "point")) - 1;
    if (button.value === "add-point") this.addPoint();
    else if (button.value === "remove-point") {
      if (choice.point < 0) choice.point = number;
      this.removePoint();
    } else {
      const at = [this.typed(form, "x"), this.typed(form, "y")];
      if (at.some(Number.isNaN)) refuse(`Type numbers, such as 12.5 (${work.state.unit.name}).`);
      else {
        if (!choice.line.round) choice.point = number;
        this.moveTo(at);
      }
    }
  }

  joined(form, button) {
    this.join(button.value);
  }

  byNumbers(form) {
    const at = [this.typed(form, "x"), this.typed(form, "y")];
    if (at.some(Number.isNaN)) this.desk.refuse("Type how far across and up the drill mark lies.");
    else this.newHole(at);
  }

  // Millimetres.
  typed(form, name) {
    return this.desk.panel.typed(value(form, name));
  }
}

const value = (form, name) => form.elements[name]?.value ?? "";
