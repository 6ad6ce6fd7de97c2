// Where one looks: the part of the drawing that the picture shows, in its own millimetres.

const NEAREST_MM = 1.5; // no nearer than this much across the picture
const FARTHEST = 6; // times the whole drawing, so that all of the paper can be seen

export class View {
  constructor(svg, changed) {
    this.svg = svg;
    this.changed = changed;
    const { x, y, width, height } = svg.viewBox.baseVal;
    this.whole = { x, y, width, height };
    this.now = { ...this.whole };
  }

  // Screen pixels for a millimetre.
  get scale() {
    return this.svg.getScreenCTM()?.a || 1;
  }

  get isWhole() {
    return this.now.width >= this.whole.width * 0.999;
  }

  // A place on the screen in millimetres, y upwards.
  at(clientX, clientY) {
    const place = new DOMPoint(clientX, clientY).matrixTransform(this.svg.getScreenCTM().inverse());
    return [place.x, -place.y];
  }

  show(box) {
    this.now = box;
    this.svg.setAttribute("viewBox", `${box.x} ${box.y} ${box.width} ${box.height}`);
    this.changed();
  }

  // `factor` above 1 comes nearer; `at` (millimetres, y upwards) stays where it is.
  zoom(factor, at) {
    const { x, y, width, height } = this.now;
    const wide = Math.min(Math.max(width / factor, NEAREST_MM), this.whole.width * FARTHEST);
    const by = wide / width;
    const centre = at ? [at[0], -at[1]] : [x + width / 2, y + height / 2];
    this.show({
      x: centre[0] - (centre[0] - x) * by,
      y: centre[1] - (centre[1] - y) * by,
      width: wide,
      height: height * by,
    });
  }

  // Moves the picture by so many millimetres, y upwards.
  pan(dx, dy) {
    const { x, y, width, height } = this.now;
    const far = this.whole;
    const held = (value, least, most) => Math.min(Math.max(value, least), most);
    this.show({
      x: held(x - dx, far.x - far.width * 3, far.x + far.width * 4 - width),
      y: held(y + dy, far.y - far.height * 3, far.y + far.height * 4 - height),
      width,
      height,
    });
  }

  all() {
    this.show({ ...this.whole });
  }

  // Brings a place (y upwards) into the picture when it lies outside or near its rim.
  reveal([x, y]) {
    const { x: left, y: top, width, height } = this.now;
    const [rx, ry] = [(x - left) / width, (-y - top) / height];
    if (rx > 0.05 && rx < 0.95 && ry > 0.05 && ry < 0.95) return;
    this.show({ x: x - width / 2, y: -y - height / 2, width, height });
  }
}
