// Events on their way to the desk: written down before they are sent, gone once it has them.
const DATABASE = "printward-present";
const STORE = "events";

const settled = (request) => new Promise((resolve, reject) => {
  request.onsuccess = () => resolve(request.result);
  request.onerror = () => reject(request.error);
});

function open() {
  const request = indexedDB.open(DATABASE, 1);
  request.onupgradeneeded = () => request.result.createObjectStore(STORE, { keyPath: "id" });
  return settled(request);
}

/** Holds the events of one person and show until the desk has each of them. */
export class Queue {
  constructor({ show, onSent, onTrouble, post }) {
    Object.assign(this, { show, onSent, onTrouble, post });
    this.waiting = new Map();
    this.tried = new Set();
    this.database = open().catch(() => null); // without one the other store has to do
    this.isSending = false;
  }

  /** Return the events left from before; `logged` are those the page's own store has not sent. */
  async load(logged) {
    const database = await this.database;
    const kept = database ? await settled(database.transaction(STORE).objectStore(STORE).getAll()) : [];
    for (const { show, ...event } of kept) {
      if (show === this.show) this.waiting.set(event.id, event);
    }
    for (const event of logged) this.waiting.set(event.id, event);
    return [...this.waiting.values()];
  }

  /** Write an event down and send it. */
  async add(event) {
    const kept = event.kind === "order" ? await this.#followOrder(event) : event;
    this.waiting.set(kept.id, kept);
    await this.#write((store) => store.put({ ...kept, show: this.show }));
    await this.send();
  }

  /** Send everything that waits, in the order it was done; what arrived is not sent again. */
  async send() {
    if (this.isSending || !this.waiting.size) return;
    this.isSending = true;
    const sent = [...this.waiting.values()].sort((a, b) => a.at_ms - b.at_ms);
    for (const { id } of sent) this.tried.add(id);
    try {
      const answer = await this.post(sent);
      for (const { id } of answer.results) this.waiting.delete(id);
      await this.#write((store) => answer.results.forEach(({ id }) => store.delete(id)));
      this.isSending = false;
      this.onSent(answer.results);
    } catch (error) {
      this.isSending = false;
      this.onTrouble(error);
      return;
    }
    await this.send();
  }

  /** Return whether a change of order is still on its way. */
  hasOrder() {
    return [...this.waiting.values()].some((event) => event.kind === "order");
  }

  /** Return a change of order made from what the sheet will have when it arrives. */
  async #followOrder(event) {
    const orders = [...this.waiting.values()].filter((each) => each.kind === "order");
    // What was sent may have arrived although no answer came back, so only untried ones are joined.
    const untried = orders.filter((each) => !this.tried.has(each.id));
    const tried = orders.filter((each) => this.tried.has(each.id));
    for (const { id } of untried) this.waiting.delete(id);
    await this.#write((store) => untried.forEach(({ id }) => store.delete(id)));
    return { ...event, base: tried.at(-1)?.order ?? untried[0]?.base ?? event.base };
  }

  async #write(change) {
    const database = await this.database;
    if (!database) return;
    const transaction = database.transaction(STORE, "readwrite", { durability: "strict" });
    change(transaction.objectStore(STORE));
    await new Promise((resolve) => {
      transaction.oncomplete = resolve;
      transaction.onerror = resolve;
      transaction.onabort = resolve;
    });
  }
}
