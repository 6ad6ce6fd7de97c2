// What the page tells of the judge's answer: figures with what the last move did to them, what is
// wrong, how far it has come; and one sentence for those who listen.

const MOST_SAID = 2;
const FIRST_SAID = ["strip", "saw", "used"];

export class Told {
  // `desk` has root, items, work, words, choose(key), reveal(at), scene.
  constructor(desk) {
    this.desk = desk;
    const part = (name) => desk.root.querySelector(`[data-${name}]`);
    this.figures = part("figures");
    this.list = part("fault-list");
    this.sheet = part("fault-sheet");
    this.fine = part("fault-none");
    this.sayBox = part("say");
    this.refusalBox = part("refusal");
    this.list.addEventListener("click", (event) => this.pressed(event));
  }

  say(words) {
    this.sayBox.textContent = words;
  }

  refuse(words) {
    this.refusalBox.textContent = words;
    this.refusalBox.hidden = !words;
  }

  show() {
    const { judged, placements } = this.desk.work.state;
    this.figures.replaceChildren(...judged.figures.map((figure) => this.figure(figure)));
    this.list.replaceChildren(...judged.faults.map((fault, index) => row(fault.words, index)));
    this.sheet.hidden = judged.faults.length === 0;
    this.fine.hidden = judged.faults.length > 0 || placements.length === 0;
  }

  busy(on) {
    this.figures.setAttribute("aria-busy", String(on));
  }

  figure({ key, label, value, change, better }) {
    const box = element("div", "laying-figure");
    box.dataset.figure = key;
    const number = element("dd", "laying-value", value);
    box.append(element("dt", "", label), number);
    if (!change) return box;
    const kind = better === null ? "" : better ? " is-better" : " is-worse";
    const said = element("dd", `laying-change${kind}`, change);
    if (better !== null) {
      const words = this.desk.words.say(better ? "better" : "worse");
      said.append(element("span", "visually-hidden", ` (${words})`));
    }
    box.append(said);
    return box;
  }

  pressed(event) {
    const button = event.target.closest("[data-fault]");
    if (!button) return;
    const fault = this.desk.work.state.judged.faults[Number(button.dataset.fault)];
    this.desk.showFault(fault);
  }

  // The figures that the last move changed, in few words.
  get changed() {
    const { judged } = this.desk.work.state;
    const worth = ({ key }) => (FIRST_SAID.includes(key) ? FIRST_SAID.indexOf(key) : FIRST_SAID.length);
    const other = judged.figures.filter((figure) => figure.change);
    const moved = other.sort((a, b) => worth(a) - worth(b)).slice(0, MOST_SAID);
    const told = moved.map(({ label, value, change }) => `${label} ${value}, ${change}.`);
    if (judged.faults.length) told.unshift(judged.faults[0].words);
    return told.join(" ");
  }
}

function row(words, index) {
  const button = element("button", "laying-fault-button", words);
  button.type = "button";
  button.dataset.fault = index;
  const line = element("li");
  line.append(button);
  return line;
}

function element(name, className = "", text = "") {
  const made = document.createElement(name);
  if (className) made.className = className;
  made.textContent = text;
  return made;
}
