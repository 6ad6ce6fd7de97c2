// The chosen piece beside the picture: what can be done with it, and where it lies in numbers.

export class Panel {
  // `desk` has root, work, words, choice, deeds, tray, may(key), isFixed(key), corner(item, place).
  constructor(desk) {
    this.desk = desk;
    this.box = desk.root.querySelector("[data-piece-panel]");
    this.hint = desk.root.querySelector("[data-hint]");
    this.pull = this.hint.querySelector("[data-hint-pull]"); // there is something to pull
    this.form = this.box.querySelector("[data-place-numbers]");
    this.pad = this.box.querySelector("[data-pad]");
    this.form.addEventListener("submit", (event) => this.typed(event));
    this.shown = "";
  }

  show() {
    const { choice, work, words } = this.desk;
    const { key, item, place } = choice;
    this.box.hidden = !item;
    this.hint.hidden = Boolean(item);
    if (this.pull) this.pull.hidden = this.desk.tray.keys.length === 0;
    if (!item) return;
    const may = this.desk.may(key);
    const { change } = work.state.may;
    this.text("[data-piece-label]", item.label);
    this.text("[data-piece-name]", item.name === item.label ? "" : item.name);
    this.text("[data-piece-where]", place ? this.desk.metalName(place.metal) : words.say("trayName"));
    const shut = {
      lay: Boolean(place) || !may,
      tray: !place || !may,
      mirror: !item.piece.may_mirror || !may,
      quarter: !may,
      back: !may,
      stay: !place || !change || this.desk.isFixed(key),
    };
    for (const button of this.desk.root.querySelectorAll("[data-deed]")) {
      const { deed } = button.dataset;
      button.disabled = shut[deed];
      if (deed === "lay") button.hidden = Boolean(place);
      if (deed === "tray") button.hidden = !place;
      if (deed === "stay") button.setAttribute("aria-pressed", String(work.pinned.has(key) || this.desk.isFixed(key)));
      if (deed === "stay") button.hidden = !this.desk.state.urls.pin;
      if (deed === "mirror") button.hidden = !item.piece.may_mirror;
    }
    this.form.hidden = !may;
    this.pad.hidden = !may || !place;
    this.fields(key, item, place ?? this.desk.fresh(item));
  }

  // Nothing is put into a field in which somebody types.
  fields(key, item, place) {
    const [x, y] = this.desk.corner(item, place).map((mm) => this.desk.words.shown(mm));
    const now = { x, y, turn: this.desk.words.degrees(place.turn_deg) };
    const other = this.shown !== key;
    this.shown = key;
    for (const [name, value] of Object.entries(now)) {
      const field = this.form.elements[name];
      if (other || document.activeElement !== field) field.value = value;
    }
  }

  typed(event) {
    event.preventDefault();
    const { words, deeds, told } = this.desk;
    const [x, y] = ["x", "y"].map((name) => words.typed(this.form.elements[name].value));
    const turn = Number(this.form.elements.turn.value.trim().replace(",", ".").replace("°", "").replace("\u2212", "-") || Number.NaN);
    if (![x, y, turn].every(Number.isFinite)) told.refuse(words.say("numbers"));
    else deeds.moveTo(x, y, turn);
  }

  text(place, words) {
    this.box.querySelector(place).textContent = words;
  }
}
