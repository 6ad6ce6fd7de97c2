// Counts down what the server has already said in words (components/wait.html). It only shows:
// whether a step may start is decided by the server, which is asked again by a reload.

const MINUTE = 60;
const HOUR = 60 * MINUTE;

// data-minutes="[m] min [s] s left" and data-hours on the box say it in the page's language.
function words(seconds, box) {
  const hours = Math.floor(seconds / HOUR);
  const minutes = Math.floor((seconds % HOUR) / MINUTE);
  const rest = String(Math.floor(seconds % MINUTE)).padStart(2, "0");
  if (hours > 0) {
    const text = box.dataset.hours ?? "[h] h [m] min left";
    return text.replace("[h]", hours).replace("[m]", String(minutes).padStart(2, "0"));
  }
  const text = box.dataset.minutes ?? "[m] min [s] s left";
  return text.replace("[m]", minutes).replace("[s]", rest);
}

// A tablet's clock may be minutes off: measure against the server's time on this very page, from
// the moment at which the page began to arrive and not from when this script came to run.
const served = Date.parse(document.documentElement.dataset.servedAt ?? "");
const arrived = performance.timeOrigin + (performance.getEntriesByType("navigation")[0]?.responseStart ?? 0);
const offset = Number.isNaN(served) ? 0 : served - arrived;

function tick() {
  for (const box of document.querySelectorAll("[data-wait-until]:not(.is-over)")) {
    const until = Date.parse(box.dataset.waitUntil);
    const left = box.querySelector("[data-wait-left]");
    if (Number.isNaN(until) || !left) continue;
    const seconds = Math.ceil((until - (Date.now() + offset)) / 1000);
    if (seconds > 0) {
      left.textContent = words(seconds, left);
      continue;
    }
    left.textContent = "";
    box.classList.add("is-over");
    const over = box.querySelector("[data-wait-over]");
    if (over) over.textContent = `${over.dataset.waitOver} ${over.dataset.again ?? "Reload the page to go on."}`;
  }
}

tick();
setInterval(tick, 1000);
