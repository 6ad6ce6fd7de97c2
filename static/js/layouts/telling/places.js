// Choosing a place by name for the chosen piece: the server knows the places, and gives their form
// with its page. It is fetched when somebody opens the fold.

import { freshPage } from "../keeping/fresh.js";

export class Places {
  // `desk` has root, choice, state, work, may(key).
  constructor(desk) {
    this.desk = desk;
    this.fold = desk.root.querySelector("[data-places]");
    this.box = this.fold.querySelector("[data-place-form]");
    this.shown = "";
    this.fold.addEventListener("toggle", () => this.show());
  }

  // Places beside other pieces come and go with every change.
  show() {
    const { choice, state, work } = this.desk;
    this.fold.hidden = !this.desk.may(choice.key);
    const now = `${choice.key} ${state.version}`;
    if (this.fold.hidden || !this.fold.open || work.isBusy || now === this.shown) return;
    this.shown = now;
    this.fetch(now);
  }

  async fetch(asked) {
    const { choice, state } = this.desk;
    const which = `${choice.item.piece.id}|${choice.item.copy}`;
    const page = await freshPage(`${state.urls.page}?${new URLSearchParams({ which })}`);
    const form = page?.querySelector("#place select[name=place]")?.form;
    if (asked !== this.shown || !form) return;
    const before = this.box.querySelector("select")?.value;
    const hadFocus = this.box.contains(document.activeElement);
    this.box.replaceChildren(document.importNode(form, true));
    const select = this.box.querySelector("select");
    if ([...select.options].some((option) => option.value === before)) select.value = before;
    if (hadFocus) this.box.querySelector("button").focus();
  }
}
