// The forms of cuts and parts beside the picture: filled as something is chosen there, and sent like
// all that is done on the table.

export class Forms {
  // `parting` has state, chosen, choose(kind, id, said).
  constructor(desk, parting) {
    Object.assign(this, { desk, parting });
    this.box = desk.root.querySelector("[data-parting]");
    this.cutForm = this.box.querySelector("[data-cut-form]");
    this.partForm = this.box.querySelector("[data-part-form]");
    for (const each of this.box.querySelectorAll("[data-choose]")) {
      each.addEventListener("change", () => parting.choose(each.dataset.choose, each.value, false));
    }
    this.shown = "";
  }

  show() {
    const { state, chosen } = this.parting;
    this.fill("cut", state.cuts.map(({ id, name, on }) => [id, name + on]), chosen.cut);
    this.fill("part", state.parts.map(({ id, name, size, on }) => [id, `${name}, ${size}${on}`]), chosen.part);
    this.cut(state.cuts.find(({ id }) => id === chosen.cut));
    this.part(state.parts.find(({ id }) => id === chosen.part));
    this.cutForm.hidden = state.cuts.length === 0;
    const none = this.box.querySelector("[data-no-cuts]");
    if (none) none.hidden = state.cuts.length > 0;
  }

  fill(kind, rows, chosen) {
    const select = this.box.querySelector(`[data-choose=${kind}]`);
    if (!select) return;
    const now = JSON.stringify(rows);
    if (select.dataset.rows !== now) {
      select.dataset.rows = now;
      select.replaceChildren(...rows.map(([value, text]) => new Option(text, value)));
    }
    select.value = chosen ?? "";
  }

  // With `typed`, a distance that somebody has written stays when another edge is chosen for it.
  cut(cut, typed = false) {
    if (!cut || !this.cutForm.elements.edge) return;
    const { edge, distance, degrees } = this.cutForm.elements;
    const other = this.shown !== `${cut.id}`;
    this.shown = `${cut.id}`;
    const before = other ? cut.sides[0]?.key : edge.value;
    edge.replaceChildren(...cut.sides.map(({ key, words }) => new Option(words, key)));
    edge.value = cut.sides.some(({ key }) => key === before) ? before : (cut.sides[0]?.key ?? "");
    const side = cut.sides.find(({ key }) => key === edge.value);
    edge.onchange = () => this.cut(cut, true);
    const stays = typed && !cut.sides.some((one) => one.typed === distance.value);
    if (document.activeElement !== distance && side && !stays) distance.value = side.typed;
    if (document.activeElement !== degrees) degrees.value = this.desk.words.degrees(cut.degrees);
    const remove = this.cutForm.querySelector("[value=remove]");
    remove.disabled = !cut.last;
  }

  part(part) {
    if (!part) return;
    const { wide, high } = this.partForm.elements;
    for (const [field, value] of [[wide, part.wide], [high, part.high]]) {
      if (!field) continue;
      this.partForm.elements[`${field.name}-was`].value = value;
      if (document.activeElement !== field) field.value = value;
    }
    const alone = this.box.querySelector("[data-alone]");
    if (alone) alone.setAttribute("aria-pressed", String(Boolean(this.parting.alone)));
  }

  // Of a cut that is pulled.
  distance(text) {
    if (this.cutForm.elements.distance) this.cutForm.elements.distance.value = text;
  }
}
