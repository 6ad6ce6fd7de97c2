// Sends what was done, one thing after the other, and hears what the server makes of it. Each has
// a key, so that the server does it once however often it is sent; without a network it waits.

const WAITS = [1, 2, 4, 8, 15];
const ANSWER_SECONDS = 15;

export class Sender {
  // `token` guards the forms; `kept` is a Kept; `on` has functions: state(), yes(answer, job),
  // no(text, answer), wait(seconds), tooOld().
  constructor(token, kept, on) {
    Object.assign(this, { token, kept, on });
    this.waiting = [];
    this.seen = null; // of what was kept: the version that it was meant for
    this.busy = false;
    this.wake = () => {};
    addEventListener("online", () => this.wake());
  }

  // What was kept when the page was left last; the jobs, to be shown.
  resume() {
    const found = this.kept.take();
    if (!found) return [];
    this.waiting = found.jobs;
    this.seen = found.seen;
    return found.jobs;
  }

  // A job is { to, fields }: the name of the address, and what is sent there.
  add(job) {
    this.waiting.push({ ...job, key: crypto.randomUUID?.() ?? String(Math.random()).slice(2) });
    this.keep();
    return this.run();
  }

  keep() {
    this.kept.put(this.seen ?? this.on.state().version, this.waiting);
  }

  async run() {
    if (this.busy) return;
    this.busy = true;
    while (this.waiting.length) {
      const answer = await this.send(this.waiting[0]);
      if (answer.stop) return; // it is kept
      if (answer.go) {
        this.kept.put(0, []);
        location.assign(answer.go);
        return;
      }
      this.seen = null;
      if (answer.text) {
        this.waiting = [];
        this.on.no(answer.text, answer);
      } else {
        this.on.yes(answer, this.waiting.shift());
      }
      this.keep();
    }
    this.busy = false;
  }

  async send(job) {
    for (let tried = 0; ; tried += 1) {
      const { urls, version } = this.on.state();
      const content = new FormData();
      content.set("csrfmiddlewaretoken", this.token);
      content.set("seen", this.seen ?? version);
      content.set("key", job.key);
      for (const [name, value] of Object.entries(job.fields)) content.set(name, value);
      try {
        return await this.ask(urls[job.to], content);
      } catch {
        const seconds = WAITS[Math.min(tried, WAITS.length - 1)];
        this.on.wait(seconds);
        await this.rest(seconds);
      }
    }
  }

  // Until so many seconds are over, or the network is back.
  rest(seconds) {
    return new Promise((done) => {
      const timer = setTimeout(done, seconds * 1000);
      this.wake = () => {
        clearTimeout(timer);
        done();
      };
    });
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
    if (answer.type === "opaqueredirect") {
      location.reload(); // signed out: to the door, and what is kept is sent after it
      return { stop: true };
    }
    if (answer.headers.get("Content-Type")?.includes("json")) return answer.json();
    if (answer.status >= 500) throw new Error("the server is not well");
    this.on.tooOld();
    return { stop: true };
  }
}
