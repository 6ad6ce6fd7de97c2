// What was done and is not answered yet is kept in this browser, so that it is sent after a lost
// network, a closed lid or a page that was loaded anew.

export class Kept {
  // `who` is the person signed in: nobody sends what another one did at the same computer.
  constructor(layout, who) {
    this.name = `layout ${layout} of ${who}`;
  }

  // { seen, jobs }: the version they are meant for, and what to send, oldest first.
  take() {
    try {
      const found = JSON.parse(localStorage.getItem(this.name));
      return Array.isArray(found?.jobs) && found.jobs.length ? found : null;
    } catch {
      return null;
    }
  }

  put(seen, jobs) {
    try {
      if (jobs.length) localStorage.setItem(this.name, JSON.stringify({ seen, jobs }));
      else localStorage.removeItem(this.name);
    } catch {
      // Without room, or where a browser keeps nothing, it lasts until the page is left.
    }
  }
}
