// What all windows of one show share: events, place, what was said. No words of the show.
const EMPTY = { rev: 0, order: null, log: [], view: { part: null, step: 0 }, said: {}, isBlank: false };

/** Return an id for an event, also where the page is not served securely. */
export function newId() {
  const bytes = crypto.getRandomValues(new Uint8Array(16));
  bytes[6] = (bytes[6] & 15) | 64; // RFC 9562: version 4, variant 10
  bytes[8] = (bytes[8] & 63) | 128;
  const hex = Array.from(bytes, (byte) => byte.toString(16).padStart(2, "0")).join("");
  return hex.replace(/^(.{8})(.{4})(.{4})(.{4})(.{12})$/, "$1-$2-$3-$4-$5");
}

/** Return two lists of events as one: each once, sent if either says so, in the order done. */
export function joinLogs(ours, theirs) {
  const all = new Map();
  for (const event of [...ours, ...theirs]) {
    const known = all.get(event.id);
    all.set(event.id, known ? { ...known, sent: known.sent || event.sent } : event);
  }
  return [...all.values()].sort((a, b) => a.at_ms - b.at_ms);
}

/** Keeps the state over reloads and hands every change to the other windows. */
export class Store {
  constructor({ key, onChange }) {
    this.key = key;
    this.onChange = onChange;
    this.isClosed = false;
    this.state = { ...EMPTY, ...this.#read() };
    this.channel = new BroadcastChannel(key);
    this.channel.addEventListener("message", (event) => this.#take(event.data));
    this.channel.postMessage({ kind: "hello" });
  }

  /** Change some of the state, here and in the other windows. */
  change(values) {
    this.state = { ...this.state, ...values, rev: this.state.rev + 1 };
    this.#write();
    this.channel.postMessage({ kind: "state", state: this.state });
    this.onChange();
  }

  /** Forget what was kept here and keep nothing more; what was not sent stands in the queue. */
  close() {
    this.isClosed = true;
    localStorage.removeItem(this.key);
  }

  #read() {
    try {
      return JSON.parse(localStorage.getItem(this.key)) ?? {};
    } catch {
      return {};
    }
  }

  #write() {
    if (this.isClosed) return;
    try {
      localStorage.setItem(this.key, JSON.stringify(this.state));
    } catch {
      // A full or forbidden store: the other windows and the queue still know.
    }
  }

  #take({ kind, state }) {
    if (kind === "hello") this.channel.postMessage({ kind: "state", state: this.state });
    if (kind === "state") this.#merge(state);
  }

  #merge(theirs) {
    const log = joinLogs(this.state.log, theirs.log);
    const newer = theirs.rev >= this.state.rev ? theirs : this.state;
    const merged = { ...newer, log };
    if (JSON.stringify(merged) === JSON.stringify(this.state)) return;
    this.state = merged;
    this.#write();
    this.onChange();
  }
}
