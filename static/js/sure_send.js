// A form on a bad network is sent again until an answer comes. Mark it data-sure-form and give it
// data-home (where to go afterwards), a box data-say and, hidden, data-stop with a way out. The
// server does such a form once however often it comes, so nothing is lost and nothing is done
// twice. Without this script the form is a plain one.

const WAITS = [1, 2, 4, 8, 15]; // seconds before each further try, the last one over and over
const ANSWER_SECONDS = 12;
const GIVE_UP_TRIES = 20;

// What is said, in the page's language: the data of a <template id="sure-words">. [s] is a number.
const words = document.getElementById("sure-words")?.dataset ?? {};
const said = (name, english, seconds) => (words[name] ?? english).replace("[s]", seconds ?? "");

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
    redirect: "manual",
    signal: AbortSignal.timeout(ANSWER_SECONDS * 1000),
  });
  // Sent elsewhere, such as to the sign-in page: the page itself says why.
  if (answer.type === "opaqueredirect") return { go: form.dataset.home };
  if (answer.status === 403 && !answer.headers.get("Content-Type")?.includes("json")) {
    return { text: said("tooOld", "This page has been open for too long. Load it again, then send once more.") };
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
      say(form, said("noAnswer", "No answer from the network. Trying again in [s] s. Leave this page open: what you sent is not lost, and it counts once.", seconds));
      await pause(seconds);
      say(form, said("again", "Trying again…"));
    }
  }
  return null;
}

async function onSubmit(event) {
  event.preventDefault();
  const form = event.currentTarget;
  if (form.hasAttribute("data-sending")) return;
  form.setAttribute("data-sending", "");
  const button = form.querySelector("button[type=submit]");
  button.setAttribute("aria-disabled", "true");
  say(form, said("sending", "Sending…"));
  const heard = await sendUntilHeard(form, new FormData(form));
  if (heard?.go) {
    const there = new URL(heard.go, window.location.href);
    // The same page has to be asked for anew, not merely scrolled.
    if (there.pathname === window.location.pathname) window.location.reload();
    else window.location.assign(there);
    return;
  }
  form.querySelector("[data-stop]").hidden = true;
  if (heard) say(form, heard.text, true);
  else say(form, said("givenUp", "The network does not answer. Press the button again, or tell your teacher."), true);
  const passphrase = form.querySelector("input[type=password]");
  if (heard && passphrase) passphrase.value = "";
  (passphrase ?? button).focus();
  button.removeAttribute("aria-disabled");
  form.removeAttribute("data-sending");
}

for (const form of document.querySelectorAll("form[data-sure-form]")) {
  form.addEventListener("submit", onSubmit);
}
