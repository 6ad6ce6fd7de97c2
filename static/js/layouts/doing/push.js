// Moving and turning the chosen piece by small steps: one change when it comes to rest. Nothing
// slides or catches here: whoever types millimetres means them.

const REST_MS = 700;

export class Push {
  // `desk` has work, choice, bench, may(key), preview(key, place, faults), done(key, what).
  constructor(desk) {
    this.desk = desk;
    this.now = null; // { key, place, held, timer }: steps that are not sent yet
  }

  // `step` gives the next placement for one.
  by(step, told) {
    const { desk } = this;
    const { key, item, place } = desk.choice;
    if (!place || !desk.may(key)) return;
    this.now ??= { key, item, place, held: desk.bench.hold(item.piece.id, item.copy), timer: 0, told };
    const next = step(this.now.place);
    const { metal, mirror, turn_deg, x_mm, y_mm } = next;
    this.now.place = { ...this.now.place, metal, mirror, turn_deg, x_mm, y_mm };
    this.now.told = told;
    const judged = this.now.held.towards({ metal, mirror, turn_deg, x_mm, y_mm }, { slide: false, snap: false, reach_mm: 0 });
    desk.preview(key, this.now.place, judged.faults);
    clearTimeout(this.now.timer);
    this.now.timer = setTimeout(() => this.flush(), REST_MS);
  }

  nudge(across, up, mm) {
    this.by((place) => ({ ...place, x_mm: stepped(place.x_mm, across * mm), y_mm: stepped(place.y_mm, up * mm) }), "moved");
  }

  // Puts back what is not sent yet; whether there was anything.
  cancel() {
    if (!this.now) return false;
    clearTimeout(this.now.timer);
    this.now = null;
    this.desk.show();
    return true;
  }

  flush() {
    if (!this.now) return;
    const { key, place, timer, told } = this.now;
    clearTimeout(timer);
    this.now = null;
    this.desk.lay(key, place, told);
  }
}

const stepped = (value, by) => Number((value + by).toFixed(6));
