// Where the stock pieces lie in the picture: side by side and below one another, as large as the
// picture's frame allows. Millimetres of the picture, y upwards.

import { boxOf } from "../shapes.js";

const BETWEEN = 0.035; // of the whole, between two stock pieces and around them
const LABEL_PX = 40; // above each for its name

export class Scene {
  // `metal` is as in the page's state; `frame` is { width, height } in pixels.
  constructor(metal, frame) {
    this.boxes = new Map(metal.map((one) => [one.id, boxOf(one.rings.flat(2))]));
    this.offsets = new Map();
    this.metal = metal;
    const ways = metal.map((_, index) => this.arranged(index + 1, frame));
    const best = ways.reduce((one, other) => (other.scale > one.scale * 1.001 ? other : one));
    this.offsets = best.offsets;
    this.width = best.width;
    this.height = best.height;
  }

  get viewBox() {
    return `0 ${-this.height} ${this.width} ${this.height}`;
  }

  arranged(across, frame) {
    const rows = [];
    for (let index = 0; index < this.metal.length; index += across) rows.push(this.metal.slice(index, index + across));
    const wide = Math.max(...rows.map((row) => row.reduce((sum, one) => sum + this.size(one)[0], 0)));
    const high = rows.reduce((sum, row) => sum + Math.max(...row.map((one) => this.size(one)[1])), 0);
    const space = BETWEEN * Math.max(wide, high);
    const width = wide + space * (across + 1);
    const bare = high + space * (rows.length + 1);
    const scale = Math.min(frame.width / width, Math.max(1, frame.height - LABEL_PX * rows.length) / bare);
    const label = LABEL_PX / scale;
    const height = bare + label * rows.length;
    const offsets = new Map();
    let top = height;
    for (const row of rows) {
      const tall = Math.max(...row.map((one) => this.size(one)[1]));
      top -= space + label + tall;
      let left = space;
      for (const one of row) {
        const [x0, y0] = this.boxes.get(one.id);
        offsets.set(one.id, [left - x0, top - y0]);
        left += this.size(one)[0] + space;
      }
    }
    return { scale, offsets, width, height };
  }

  size(one) {
    const [left, low, right, high] = this.boxes.get(one.id);
    return [right - left, high - low];
  }

  offset(metal) {
    return this.offsets.get(metal) ?? [0, 0];
  }

  // A place of the picture on the stock piece under it, or on the nearest.
  on([x, y], keep = null) {
    let best = null;
    for (const { id } of this.metal) {
      const [dx, dy] = this.offset(id);
      const [left, low, right, high] = this.boxes.get(id);
      const at = [x - dx, y - dy];
      const far = Math.hypot(Math.max(left - at[0], 0, at[0] - right), Math.max(low - at[1], 0, at[1] - high));
      // One that is held stays on its metal until it is clearly nearer to another.
      const counted = id === keep ? far - 1e-6 : far;
      if (!best || counted < best.far) best = { metal: id, at, far: counted };
    }
    return best;
  }

  // A place on a stock piece, in the picture.
  seen(metal, [x, y]) {
    const [dx, dy] = this.offset(metal);
    return [x + dx, y + dy];
  }
}
