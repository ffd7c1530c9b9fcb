// Talking to the desk: its time, the show as it stands, and what happened here.
const PATIENCE_MS = 8000;
const TRIES = 5;

/** The desk does not know who asks any more. */
export class LoggedOutError extends Error {}

const now = () => performance.now();

/** Fetches and sends for one show; `page` has the addresses. */
export class Desk {
  constructor({ page, token }) {
    Object.assign(this, { page, token });
  }

  /** Return some exchanges about the time; empty when the desk cannot be reached. */
  async askTime() {
    const found = [];
    for (let n = 0; n < TRIES; n += 1) {
      try {
        const sent = now();
        const answer = await this.#fetch(this.page.time);
        const received = now();
        found.push({ sent, received, server_ms: (await answer.json()).now_ms });
      } catch {
        return found;
      }
    }
    return found;
  }

  /** Return the show when it is not the one known by its digest, null when nothing changed. */
  async askState(known) {
    const query = known ? `?known=${known}` : "";
    return (await (await this.#fetch(this.page.state + query)).json()).show;
  }

  /** Hand over events; returns what became of each. */
  async send(events) {
    const sent = events.map(({ sent: _, ...event }) => event);
    let answer = await this.#post(sent);
    if (answer.status === 403) {
      await this.#renewToken();
      answer = await this.#post(sent);
    }
    this.#refuse(answer);
    return answer.json();
  }

  #post(events) {
    return fetch(this.page.events, {
      method: "POST",
      credentials: "same-origin",
      headers: { "Content-Type": "application/json", "X-CSRFToken": this.token },
      body: JSON.stringify({ events }),
      signal: AbortSignal.timeout(PATIENCE_MS),
    });
  }

  /** Take the token of a page the desk makes now: a new log-in has another. */
  async #renewToken() {
    const answer = await this.#fetch(this.page.present);
    const fresh = new DOMParser().parseFromString(await answer.text(), "text/html");
    const person = JSON.parse(fresh.getElementById("page-data").textContent).person;
    if (person !== this.page.person) throw new LoggedOutError("Somebody else is logged in.");
    this.token = fresh.body.dataset.token;
  }

  async #fetch(url) {
    const answer = await fetch(url, { credentials: "same-origin", cache: "no-store", signal: AbortSignal.timeout(PATIENCE_MS) });
    this.#refuse(answer);
    return answer;
  }

  #refuse(answer) {
    if (answer.status === 403 || answer.url.includes("/accounts/login")) throw new LoggedOutError("You are logged out.");
    if (!answer.ok) throw new Error(`The desk answered ${answer.status}.`);
  }
}
