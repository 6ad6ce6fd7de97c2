// Sends changes one after the other and hears what the server makes of them. The picture shows a
// change at once; it stays in `waiting` until the server has said yes, and goes when it says no.
// A change carries a key, so that the server does it once however often it is sent.

const WAITS = [1, 2, 4, 8, 15];
const MOST_TRIES = 8;
const ANSWER_SECONDS = 15;
const TOO_OLD = "This page has been open for too long. Load it again; what was done before is kept.";
const NOT_WELL = "The app cannot answer at the moment. What you did last is not kept.";

const pause = (seconds) => new Promise((done) => setTimeout(done, seconds * 1000));

export class Sender {
  // `token` guards the forms; `on` has functions: state(), yes(answer, job), no(text, answer),
  // wait(text).
  constructor(token, on) {
    this.token = token;
    this.on = on;
    this.waiting = [];
    this.busy = false;
  }

  change(changes, again = false) {
    this.waiting.push({ changes, again, key: crypto.randomUUID?.() ?? String(Math.random()).slice(2) });
    return this.run();
  }

  undo() {
    this.waiting.push({ undo: true });
    return this.run();
  }

  async run() {
    if (this.busy) return;
    this.busy = true;
    while (this.waiting.length) {
      const answer = await this.send(this.waiting[0]);
      if (answer.go) {
        location.assign(answer.go);
        return;
      }
      if (answer.text) {
        this.waiting = [];
        this.on.no(answer.text, answer);
      } else {
        this.on.yes(answer, this.waiting.shift());
      }
    }
    this.busy = false;
  }

  async send(job) {
    const { urls, version } = this.on.state();
    const content = new FormData();
    content.set("csrfmiddlewaretoken", this.token);
    content.set("seen", version);
    if (!job.undo) {
      content.set("changes", JSON.stringify(job.changes));
      content.set("key", job.key);
    }
    for (let tried = 0; tried < MOST_TRIES; tried += 1) {
      try {
        return await this.ask(job.undo ? urls.undo : urls.change, content);
      } catch {
        const seconds = WAITS[Math.min(tried, WAITS.length - 1)];
        this.on.wait(`No answer from the network. Trying again in ${seconds} s; leave this page open.`);
        await pause(seconds);
      }
    }
    return { text: NOT_WELL };
  }

  async ask(address, content) {
    const answer = await fetch(address, {
      method: "POST",
      body: content,
      headers: { Accept: "application/json" },
      credentials: "same-origin",
      redirect: "manual",
      signal: AbortSignal.timeout(ANSWER_SECONDS * 1000),
    });
    if (answer.type === "opaqueredirect") return { go: this.on.state().urls.page };
    const ours = answer.headers.get("Content-Type")?.includes("json");
    if (!ours && answer.status >= 400 && answer.status < 500) return { text: TOO_OLD };
    if (!ours) throw new Error("the server is not well");
    return answer.json();
  }
}
