// Building from shapes without reloads. Every deed on the page is a plain form; this module sends
// the same forms one after the other and puts the server's answer, the same workbench, in place.
// Shapes are taken hold of in hand.js. No geometry is worked out here.

import { handle } from "./hand.js";
import { look } from "./view.js";

const root = document.querySelector("[data-building]");
const say = document.querySelector("[data-say]");
const WAITS = [1, 2, 4, 8, 15]; // seconds before each further try
const TRIES = 12;
const ANSWER_SECONDS = 15;

const waiting = []; // deeds not yet sent: functions that make the content when their turn comes
let sending = false;

const bench = () => root.querySelector("[data-base]");
const pause = (seconds) => new Promise((done) => setTimeout(done, seconds * 1000));

function tell(text, no = false) {
  say.textContent = text;
  say.classList.toggle("is-no", no);
}

// Where the person was before the workbench is replaced: focus, what is being typed, open folds.
function remember() {
  const at = document.activeElement;
  const typing = at?.matches?.("input:not([type=radio])") && root.contains(at);
  return {
    id: root.contains(at) ? at.id : "",
    text: typing && at.value !== at.defaultValue ? at.value : null,
    item: root.querySelector("[data-numbers]")?.dataset.item,
    open: new Set([...root.querySelectorAll("details[open]")].map((fold) => fold.id)),
    role: root.querySelector("[name=role]:checked")?.value,
  };
}

function restore(before) {
  const same = root.querySelector("[data-numbers]")?.dataset.item === before.item;
  for (const fold of root.querySelectorAll("details[id]")) {
    if (same && before.open.has(fold.id) && fold.id !== "fold-examples") fold.open = true;
  }
  const role = before.role && root.querySelector(`[name=role][value="${before.role}"]`);
  if (role && same) role.checked = true;
  if (!before.id) return;
  const again = document.getElementById(before.id);
  if (!again) return;
  again.focus({ preventScroll: true });
  if (same && before.text !== null && again.matches("input")) again.value = before.text;
}

function put(html) {
  const before = remember();
  root.innerHTML = html;
  restore(before);
  const made = bench();
  const chosen = root.querySelector("[data-numbers]")?.dataset.item;
  history.replaceState(null, "", chosen ? `?item=${chosen}` : location.pathname);
  return made;
}

async function ask(content) {
  const answer = await fetch(content.url, {
    method: content.body ? "POST" : "GET",
    body: content.body,
    headers: { "X-Building": "1" },
    credentials: "same-origin",
    redirect: "manual",
    signal: AbortSignal.timeout(ANSWER_SECONDS * 1000),
  });
  if (answer.status >= 500) throw new Error("the server is not well");
  if (answer.status !== 200 && answer.status !== 422) {
    return { lost: "Load this page again: you may have been signed out. What you built is kept." };
  }
  const html = await answer.text();
  if (!html.includes("data-base=")) throw new Error("this is not our page");
  return { html, done: answer.status === 200 };
}

async function askUntilHeard(content) {
  for (let tried = 0; tried < TRIES; tried += 1) {
    try {
      return await ask(content);
    } catch {
      const seconds = WAITS[Math.min(tried, WAITS.length - 1)];
      tell(`No answer from the network. Trying again in ${seconds} s; leave this page open.`, true);
      await pause(seconds);
    }
  }
  return { lost: "There is no network. Load this page again later: what was kept is still there." };
}

async function work() {
  if (sending) return;
  sending = true;
  while (waiting.length) {
    bench().classList.add("is-busy");
    const deed = waiting.shift();
    const content = deed.make();
    if (!content) continue;
    const heard = await askUntilHeard(content);
    if (heard.lost) {
      tell(heard.lost, true);
      waiting.length = 0;
      break;
    }
    const made = put(heard.html);
    if (content.body && heard.done) tell(`Kept. ${made.dataset.note} Checked: ${made.dataset.check}.`);
    else tell("");
    deed.after?.(heard.done);
    if (!heard.done) root.querySelector("[aria-invalid=true], [role=alert]")?.scrollIntoView({ block: "center" });
    if (!heard.done) root.querySelector("[aria-invalid=true]")?.focus({ preventScroll: true });
    document.dispatchEvent(new CustomEvent("building:renewed"));
  }
  bench()?.classList.remove("is-busy");
  sending = false;
}

// A deed with these fields. What the page was made from is filled in when it is sent.
export function send(fields, after) {
  waiting.push({
    after,
    make: () => {
      const now = typeof fields === "function" ? fields() : fields;
      if (!now) return null;
      const body = now instanceof FormData ? now : new FormData();
      if (!(now instanceof FormData)) {
        for (const [name, value] of Object.entries(now)) body.set(name, value);
        body.set("csrfmiddlewaretoken", root.querySelector("[name=csrfmiddlewaretoken]").value);
      }
      body.set("base", bench().dataset.base);
      return { url: root.dataset.home, body };
    },
  });
  work();
}

export function choose(item, after) {
  waiting.push({ after, make: () => ({ url: `${root.dataset.home}?item=${encodeURIComponent(item)}` }) });
  work();
}

// `send` runs while an earlier form may still be on its way, so the data are taken at once.
// Taking the drawing leaves the page, after everything before it was heard; the form is then the
// one of the newest answer, with its base.
function onSubmit(event) {
  if (event.target.matches("[data-plain]")) return;
  event.preventDefault();
  if (event.target.matches("[data-use]")) {
    waiting.push({ make: () => void root.querySelector("[data-use]")?.submit() });
    work();
    return;
  }
  const data = new FormData(event.target, event.submitter);
  const added = data.get("deed") === "add";
  send(data, (done) => {
    if (done && added) document.getElementById("picture").scrollIntoView({ block: "nearest" });
  });
}

function onClick(event) {
  const link = event.target.closest("[data-choose]");
  if (!link || event.ctrlKey || event.metaKey || event.shiftKey) return;
  event.preventDefault();
  const fromList = link.id.startsWith("row-");
  choose(link.dataset.choose, () => {
    const place = fromList && matchMedia("(max-width: 61.99rem)").matches;
    if (place) document.getElementById("picture").scrollIntoView({ block: "start" });
  });
}

function onChange(event) {
  const form = event.target.closest("[data-numbers]");
  if (form) form.requestSubmit();
}

function onKey(event) {
  if (event.target.matches("input, select, textarea")) return;
  const key = event.key.toLowerCase();
  if (!(event.ctrlKey || event.metaKey) || !["z", "y"].includes(key)) return;
  const redo = key === "y" || event.shiftKey;
  const button = root.querySelector(`[data-key="${redo ? "redo" : "undo"}"]`);
  event.preventDefault();
  if (!button.disabled) button.click();
}

if (root) {
  root.addEventListener("submit", onSubmit);
  root.addEventListener("click", onClick);
  root.addEventListener("change", onChange);
  document.addEventListener("keydown", onKey);
  // A form that is still waiting for its turn must not be lost when the page is left.
  window.addEventListener("beforeunload", (event) => {
    if (sending || waiting.length) event.preventDefault();
  });
  const view = look(root, () => hand.letGo());
  const hand = handle(root, { send, choose, tell, at: (event) => view.at(event.clientX, event.clientY) });
}
