// Pushing the point in hand by small steps: one change when it comes to rest.

const REST_MS = 700;

export class Push {
  // `desk` has work, choice, panel, preview(base, change).
  constructor(desk) {
    this.desk = desk;
    this.now = null; // { change, base, timer }: pushes that are not sent yet
  }

  nudge(across, up, far) {
    const { work, choice } = this.desk;
    if (!choice.line) return;
    const step = work.state.unit.step * (far ? 10 : 1);
    if (!this.now && !choice.line.round && choice.point < 0) choice.hold(0);
    this.now ??= { change: this.begun(), base: work.lines, timer: 0 };
    const { change, base, timer } = this.now;
    const to = change.by ?? change.to;
    to[0] = Number((to[0] + across * step).toFixed(6));
    to[1] = Number((to[1] + up * step).toFixed(6));
    this.desk.preview(base, change);
    clearTimeout(timer);
    this.now.timer = setTimeout(() => this.flush(), REST_MS);
  }

  begun() {
    const { choice, panel } = this.desk;
    const { line, point } = choice;
    if (line.round) return { do: "move-line", line: line.id, by: [0, 0] };
    const to = line.points[point].slice();
    return { do: "move-point", line: line.id, index: point, to, reach_mm: panel.reach(line, point) };
  }

  flush() {
    if (!this.now) return;
    const { change, base, timer } = this.now;
    clearTimeout(timer);
    this.now = null;
    this.desk.work.changeFrom(base, change);
  }
}
