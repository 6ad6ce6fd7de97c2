// Counts down what the server has already said in words (components/wait.html). It only shows:
// whether a step may start is decided by the server, which is asked again by a reload.

const MINUTE = 60;
const HOUR = 60 * MINUTE;

function words(seconds) {
  const hours = Math.floor(seconds / HOUR);
  const minutes = Math.floor((seconds % HOUR) / MINUTE);
  const rest = String(Math.floor(seconds % MINUTE)).padStart(2, "0");
  if (hours > 0) return `${hours} h ${String(minutes).padStart(2, "0")} min left`;
  return `${minutes} min ${rest} s left`;
}

// A tablet's clock may be minutes off: measure against the server's time on this very page.
const served = Date.parse(document.documentElement.dataset.servedAt ?? "");
const offset = Number.isNaN(served) ? 0 : served - Date.now();

function tick() {
  for (const box of document.querySelectorAll("[data-wait-until]:not(.is-over)")) {
    const until = Date.parse(box.dataset.waitUntil);
    const left = box.querySelector("[data-wait-left]");
    if (Number.isNaN(until) || !left) continue;
    const seconds = Math.ceil((until - (Date.now() + offset)) / 1000);
    if (seconds > 0) {
      left.textContent = words(seconds);
      continue;
    }
    left.textContent = "";
    box.classList.add("is-over");
    const over = box.querySelector("[data-wait-over]");
    if (over) over.textContent = `${over.dataset.waitOver} Reload the page to go on.`;
  }
}

tick();
setInterval(tick, 1000);
