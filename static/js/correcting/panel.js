// The forms beside the picture: filled with what is chosen, and read when a button is pressed.

import { ownReach } from "./lines.js";

const LEAST_SHOWN = 1e-9;
const AUTO = "auto";

export class Panel {
  // `unit` is { name, mm, places }; `drills` are diameters in millimetres.
  constructor(root, unit, drills) {
    this.root = root;
    this.unit = unit;
    this.drills = drills;
    this.box = root.querySelector("[data-line-panel]");
    this.hint = root.querySelector("[data-hint]");
    for (const each of root.querySelectorAll("[data-needs-script]")) each.hidden = false;
    for (const each of root.querySelectorAll("[data-no-script]")) each.hidden = true;
    this.field("reach").prepend(new Option("a curve follows, a corner goes alone", AUTO, true, true));
  }

  shown(mm) {
    const value = mm / this.unit.mm;
    return (Math.abs(value) < LEAST_SHOWN ? 0 : value).toFixed(this.unit.places);
  }

  // Millimetres of what was typed in the school's unit; NaN when it is no number.
  typed(text) {
    const written = text.trim().replace("\u2212", "-").replace(",", ".").toLowerCase();
    const found = /^([-+]?(?:\d+\.?\d*|\.\d+))\s*(mm|cm|in|")?$/.exec(written);
    if (!found) return Number.NaN;
    const per = { mm: 1, cm: 10, in: 25.4, '"': 25.4 }[found[2] ?? this.unit.name];
    return Number(found[1]) * per;
  }

  field(name, form = "point") {
    return this.root.querySelector(`[data-change-form="${form}"] [name="${name}"]`);
  }

  reach(line, point, way) {
    const asked = this.field("reach").value;
    return asked === AUTO ? ownReach(line, point, way) : Number(asked) || 0;
  }

  get drill() {
    return Number(this.root.querySelector("[data-hole-drill]").value);
  }

  // `line` is null when none is chosen; `words` has label, now and looks.
  fill(line, words, point) {
    this.box.hidden = !line;
    this.hint.hidden = Boolean(line);
    if (!line) return;
    if (this.box.dataset.shown !== line.id) {
      this.fold("hole").open = Boolean(line.round);
      this.fold("points").open = !line.round;
      this.box.dataset.shown = line.id;
    }
    this.text("[data-line-id]", line.id);
    this.text("[data-line-looks]", words?.looks ?? (line.closed ? "closed line" : "open line"));
    this.text("[data-line-now]", words?.now ?? "");
    for (const each of this.box.querySelectorAll("[data-line-field]")) each.value = line.id;
    for (const button of this.box.querySelectorAll("button[name=label][aria-pressed]")) {
      button.setAttribute("aria-pressed", String(button.value === words?.label));
    }
    this.box.querySelector("[data-closed-only]").hidden = !line.closed;
    const across = line.round?.[2];
    this.text(
      "[data-now-across]",
      across ? `Now ${this.shown(across)} ${this.unit.name} across.` : "It becomes a true circle about its middle.",
    );
    const select = this.field("drill", "diameter");
    const nearest = this.drills.findIndex((size) => across && Math.abs(size - across) < 0.006);
    select.selectedIndex = nearest + 1;
    this.field("diameter", "diameter").value = "";
    this.place(line, point);
  }

  // Where the point in hand lies; for a circle its middle.
  place(line, point) {
    const at = line.round ? [line.round[0], line.round[1]] : line.points[point];
    this.field("x").value = at ? this.shown(at[0]) : "";
    this.field("y").value = at ? this.shown(at[1]) : "";
    this.field("point").value = line.round ? "middle" : point + 1;
    this.field("point").disabled = Boolean(line.round);
    this.text("[data-point-count]", line.round ? "" : ` (1 to ${line.points.length})`);
    for (const name of ["add-point", "remove-point"]) {
      this.box.querySelector(`button[value="${name}"]`).disabled = Boolean(line.round);
    }
  }

  gaps(gaps) {
    const sheet = this.root.querySelector("[data-gap-sheet]");
    sheet.hidden = gaps.length === 0;
    const list = sheet.querySelector("[data-gap-list]");
    list.replaceChildren(
      ...gaps.map((gap) => {
        const button = document.createElement("button");
        Object.assign(button, { type: "submit", name: "gap", value: gap.ends, className: "btn btn-small" });
        button.textContent = `Close ${gap.words}`;
        const row = document.createElement("li");
        row.append(button);
        return row;
      }),
    );
  }

  // The server's answer goes into every form, so that one sent without this script is no older.
  versions(state) {
    for (const each of this.root.querySelectorAll("[data-seen]")) each.value = state.version;
    for (const form of this.root.querySelectorAll("[data-change-form]")) form.action = state.urls.change;
    for (const form of this.root.querySelectorAll("[data-undo-form], [data-all-form]")) {
      form.action = state.urls.undo;
    }
    this.root.querySelector("[data-all-fold]").hidden = state.count === 0;
    this.root.querySelector("[data-findings]").innerHTML = state.findings;
  }

  fold(name) {
    return this.box.querySelector(`[data-fold="${name}"]`);
  }

  text(place, words) {
    this.box.querySelector(place).textContent = words;
  }
}
