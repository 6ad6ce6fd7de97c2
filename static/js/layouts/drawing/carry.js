// A piece in hand while it is not over the picture: on the way from the tray or to it.

import { made } from "./svg.js";

export class Carry {
  // `box` is an <svg> that lies over the page.
  constructor(box) {
    this.box = box;
    this.key = "";
  }

  // `scale` is in pixels for a millimetre.
  show(pull, x, y, scale) {
    if (this.key !== pull.key) {
      this.key = pull.key;
      const [gx, gy] = pull.grip;
      const turn = `scale(${scale}) rotate(${-pull.turn}) scale(${pull.place.mirror ? -1 : 1} 1)`;
      const shape = made("path", { class: "laying-shape", d: pull.item.path });
      this.box.replaceChildren(made("g", { transform: `${turn} translate(${-gx} ${gy})` }, shape));
      this.box.removeAttribute("hidden");
    }
    this.box.style.transform = `translate(${x}px, ${y}px)`;
  }

  hide() {
    if (!this.key) return;
    this.key = "";
    this.box.setAttribute("hidden", "");
    this.box.replaceChildren();
  }
}
