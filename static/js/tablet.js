// A bench tablet's forms on a bad network. The form is sent again, with the same key, until an
// answer comes: the server does each key once, so nothing is lost and nothing is done twice.
// Without this script the form is a plain one. A page left open goes back to the names.

const WAITS = [1, 2, 4, 8, 15]; // seconds before each further try, the last one over and over
const ANSWER_SECONDS = 12;
const GIVE_UP_TRIES = 20;
const IDLE_SECONDS = 120;

const pause = (seconds) => new Promise((done) => setTimeout(done, seconds * 1000));

function say(form, text, no = false) {
  const box = form.querySelector("[data-say]");
  box.textContent = text;
  box.classList.toggle("is-no", no);
}

async function send(form, content) {
  const answer = await fetch(form.action, {
    method: "POST",
    body: content,
    headers: { Accept: "application/json" },
    credentials: "same-origin",
    redirect: "error",
    signal: AbortSignal.timeout(ANSWER_SECONDS * 1000),
  });
  if (answer.status === 403 && !answer.headers.get("Content-Type")?.includes("json")) {
    return { text: "This page has been open for too long. Go back to the names and choose yours again." };
  }
  if (answer.status >= 500) throw new Error("the server is not well");
  return answer.json(); // what is not ours, such as a network's own sign-in page, is no answer
}

// Answers { go } or { text }, or nothing when the network stayed away.
async function sendUntilHeard(form, content) {
  for (let tried = 0; tried < GIVE_UP_TRIES; tried += 1) {
    try {
      return await send(form, content);
    } catch {
      const seconds = WAITS[Math.min(tried, WAITS.length - 1)];
      form.querySelector("[data-stop]").hidden = false;
      say(form, `No answer from the network. Trying again in ${seconds} s. Leave this page open: what you sent is not lost, and it counts once.`);
      await pause(seconds);
      say(form, "Trying again…");
    }
  }
  return null;
}

async function onSubmit(event) {
  event.preventDefault();
  const form = event.currentTarget;
  if (form.dataset.sending) return;
  form.dataset.sending = "yes";
  const button = form.querySelector("button[type=submit]");
  button.setAttribute("aria-disabled", "true");
  say(form, "Sending…");
  const heard = await sendUntilHeard(form, new FormData(form));
  if (heard?.go) {
    window.location.assign(heard.go);
    return;
  }
  form.querySelector("[data-stop]").hidden = true;
  if (heard) say(form, heard.text, true);
  else say(form, "The network does not answer. Press the button again, or tell your teacher.", true);
  const passphrase = form.querySelector("input[type=password]");
  if (heard) passphrase.value = "";
  passphrase.focus();
  button.removeAttribute("aria-disabled");
  delete form.dataset.sending;
}

for (const form of document.querySelectorAll("[data-tablet-form]")) {
  form.addEventListener("submit", onSubmit);
}

// Nobody's page stays open with half a passphrase in it.
const home = document.querySelector("[data-tablet-form]")?.dataset.home;
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
