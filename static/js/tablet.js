// A bench tablet that is left alone goes back to the names, and never shows an old page again:
// nobody's page stays open with half a passphrase in it.

const IDLE_SECONDS = 120;

const home = document.querySelector("form[data-sure-form]")?.dataset.home;
let lastTouch = Date.now();
for (const kind of ["pointerdown", "keydown", "scroll"]) {
  document.addEventListener(kind, () => { lastTouch = Date.now(); }, { passive: true, capture: true });
}
if (home) {
  setInterval(() => {
    const busy = document.querySelector("[data-sending]");
    if (!busy && Date.now() - lastTouch > IDLE_SECONDS * 1000) window.location.replace(home);
  }, 5000);
}
window.addEventListener("pageshow", (event) => {
  if (event.persisted) window.location.reload();
});
