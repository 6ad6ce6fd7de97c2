// Choosing a line of the pattern without a reload. Each line in the picture is a link that asks
// the server for its panel (?line=7); this module fills the same panel on the spot from the
// table below. Lines that stand on another page of the table are left to the server.

const panel = document.querySelector("[data-line-panel]");
const picture = document.querySelector("[data-lines]");

function show(id, row) {
  for (const [place, text] of [
    ["[data-line-id]", id],
    ["[data-line-looks]", row.dataset.looks],
    ["[data-line-now]", row.dataset.now],
  ]) {
    panel.querySelector(place).textContent = text;
  }
  for (const button of panel.querySelectorAll("button[data-choice]")) {
    button.name = `line-${id}`;
    if (button.hasAttribute("aria-pressed")) {
      button.setAttribute("aria-pressed", String(button.dataset.choice === row.dataset.taken));
    }
  }
  for (const line of picture.querySelectorAll(".pick")) {
    line.classList.toggle("is-chosen", line.dataset.line === id);
  }
  panel.hidden = false;
  panel.focus({ preventScroll: true });
  panel.scrollIntoView({ block: "nearest" });
}

if (panel && picture) {
  picture.addEventListener("click", (event) => {
    const line = event.target.closest(".pick");
    if (!line || event.ctrlKey || event.metaKey || event.shiftKey) return;
    const id = line.dataset.line;
    const row = document.querySelector(`[data-line-row="${CSS.escape(id)}"]`);
    if (!row) return;
    event.preventDefault();
    show(id, row);
  });
  // Escape goes back from the panel to the line that it speaks of.
  panel.addEventListener("keydown", (event) => {
    if (event.key !== "Escape") return;
    panel.hidden = true;
    picture.querySelector(".pick.is-chosen")?.focus();
  });
}
