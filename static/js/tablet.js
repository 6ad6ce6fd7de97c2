// A bench tablet that is left alone says so, goes back to the names, and never shows an old page
// again: nobody's page stays open with half a passphrase in it.

const IDLE_SECONDS = 120;
const WARN_SECONDS = 20;

const form = document.querySelector("form[data-sure-form]");
const box = form?.querySelector("[data-say]");
const idleWords = document.getElementById("sure-words")?.dataset.idle ??
  "Going back to the names in [s] seconds. Touch the page or press a key to stay.";
const warning = idleWords.replace("[s]", WARN_SECONDS);
let lastTouch = Date.now();

function touched() {
  lastTouch = Date.now();
  if (box?.textContent === warning) box.textContent = "";
}

for (const kind of ["pointerdown", "keydown", "scroll"]) {
  document.addEventListener(kind, touched, { passive: true, capture: true });
}

function look() {
  if (form.hasAttribute("data-sending")) {
    lastTouch = Date.now();
    return;
  }
  const idle = (Date.now() - lastTouch) / 1000;
  if (idle > IDLE_SECONDS) window.location.replace(form.dataset.home);
  else if (idle > IDLE_SECONDS - WARN_SECONDS) box.textContent = warning;
}

if (form) setInterval(look, 1000);

window.addEventListener("pageshow", (event) => {
  if (event.persisted) window.location.reload();
});
