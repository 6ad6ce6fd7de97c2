// A practice sheet on the layout table: once every piece lies without fault, the known answer can
// be looked at.

const whole = document.querySelector("[data-whole]");
const words = whole.querySelector("[data-whole-words]");

document.addEventListener("layout-judged", ({ detail }) => {
  const isWhole = detail.faults.length === 0 && detail.missing.length === 0;
  words.hidden = !isWhole;
  if (isWhole) whole.hidden = false;
});
