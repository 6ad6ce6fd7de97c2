// What the page says, in its language: templates/studio/layouts/table/words.html has the sentences, with
// {names} where something is put in. Lengths are said in the school's unit.

const LEAST_SHOWN = 1e-9;

export class Words {
  // `unit` is { name, mm, places }.
  constructor(template, unit) {
    this.said = template.dataset;
    this.unit = unit;
  }

  say(name, put = {}) {
    const sentence = this.said[name] ?? "";
    return sentence.replace(/\{(\w+)\}/g, (whole, key) => put[key] ?? whole);
  }

  // A number in the school's unit, for a field.
  shown(mm, places = this.unit.places) {
    const value = mm / this.unit.mm;
    return (Math.abs(value) < LEAST_SHOWN ? 0 : value).toFixed(places);
  }

  length(mm) {
    return `${this.shown(mm)} ${this.unit.name}`;
  }

  size(wide, high) {
    const places = Math.min(this.unit.places, this.unit.mm > 2 ? 2 : 1);
    return `${this.shown(wide, places)} × ${this.shown(high, places)} ${this.unit.name}`;
  }

  // Millimetres of what was typed in the school's unit; NaN when it is no number.
  typed(text) {
    const written = text.trim().replace("\u2212", "-").replace(",", ".").toLowerCase();
    const found = /^([-+]?(?:\d+\.?\d*|\.\d+))\s*(mm|cm|in|")?$/.exec(written);
    if (!found) return Number.NaN;
    const per = { mm: 1, cm: 10, in: 25.4, '"': 25.4 }[found[2] ?? this.unit.name];
    return Number(found[1]) * per;
  }

  degrees(deg) {
    return String(Number(deg.toFixed(2)));
  }
}
