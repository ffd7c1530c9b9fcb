// What a presenter can do. Every act is an event with its moment, and a place in the show.
import { adoptOrder, arrange, nextOf, readLog, stepsOf } from "./present_plan.js";
import { joinLogs, newId } from "./present_store.js";

/** Acts on the state of a show; `getShow` gives its newest content, `say` speaks a sentence. */
export class Control {
  constructor({ store, queue, clock, getShow, getParts, say }) {
    Object.assign(this, { store, queue, clock, getShow, getParts, say });
  }

  /** Return what has happened so far. */
  get reading() {
    return readLog(this.store.state.log, this.getShow());
  }

  /** Return the parts in this page's order. */
  get parts() {
    const { onAir_ms } = this.reading;
    // Before the show, the sheet's order counts, unless a change of ours is still on its way to it.
    if (onAir_ms !== null || this.queue.hasOrder()) return arrange(this.getParts(), this.store.state.order);
    return this.getParts().filter((part) => !part.isGone);
  }

  get isLive() {
    const { onAir_ms, offAir_ms } = this.reading;
    return onAir_ms !== null && offAir_ms === null && !this.getShow().is_out;
  }

  /** Return the part that is looked at, and the step in it. */
  get view() {
    const { view } = this.store.state;
    const parts = this.parts;
    const part = parts.find((each) => each.id === view.part)
      ?? parts.find((each) => each.id === this.reading.current) ?? parts[0];
    const steps = stepsOf(part);
    return { part, steps, step: Math.min(part?.id === view.part ? view.step : 0, steps.length - 1) };
  }

  /** Begin the show with its first part, at one moment. */
  onAir() {
    if (this.reading.onAir_ms !== null || this.getShow().is_out) return;
    const first = nextOf(this.parts, this.reading);
    const at_ms = this.#moment();
    const events = [this.#event("on_air", { at_ms })];
    if (first) events.push(this.#event("part", { part: first.id, at_ms }));
    this.#keep(events, { order: this.parts.map((part) => part.id), ...(first && this.#look(first.id)) });
    this.say("On air.");
  }

  /** End the show. */
  offAir() {
    if (!this.isLive) return;
    this.#keep([this.#event("off_air", {})], {});
    this.say("Off air.");
  }

  /** Go one step on: a mark, a picture, and after the last of them the next part. */
  forward() {
    const { part, steps, step } = this.view;
    if (!part) return;
    if (step < steps.length - 1) {
      this.store.change(this.#look(part.id, step + 1));
      return;
    }
    const parts = this.parts;
    const after = parts[parts.indexOf(part) + 1];
    if (this.isLive && (part.id === this.reading.current || !after)) this.nextPart();
    else if (after) this.store.change(this.#look(after.id));
  }

  /** Go one step back, as far as looking at parts that were on before. */
  back() {
    const { part, step } = this.view;
    if (!part) return;
    const parts = this.parts;
    const before = parts[parts.indexOf(part) - 1];
    if (step > 0) this.store.change(this.#look(part.id, step - 1));
    else if (before) this.store.change(this.#look(before.id, stepsOf(before).length - 1));
  }

  /** Go to the first picture of the part, without marks. */
  first() {
    const { part } = this.view;
    if (part) this.store.change(this.#look(part.id));
  }

  /** Start the part that comes next; before the show is on air, only look at it. */
  nextPart() {
    if (this.isLive) {
      const next = nextOf(this.parts, this.reading);
      if (next) this.start(next.id);
      else this.say("That was the last part.");
      return;
    }
    const parts = this.parts;
    const after = parts[parts.indexOf(this.view.part) + 1];
    if (after) this.store.change(this.#look(after.id));
  }

  /** Start a part now. */
  start(id) {
    const part = this.parts.find((each) => each.id === id);
    if (!this.isLive || !part || part.do_not_show) return;
    const correct = this.store.state.log.some((each) => each.kind === "undo" && each.part === id);
    this.#keep([this.#event("part", { part: id, correct })], this.#look(id));
    this.say(`${part.slug} is on.`);
  }

  /** Take the start of the part that is on back; the part before is on again. */
  takeBack() {
    const { current, starts } = this.reading;
    if (!this.isLive || current === null || starts.size < 2) return;
    const event = this.#event("undo", { part: current });
    // The desk forgets this very start, so the event carries its moment.
    this.#keep([{ ...event, at_ms: starts.get(current) }], {});
    this.store.change(this.#look(this.reading.current));
    this.say("The start is taken back.");
  }

  /** Leave a part out, or put it back. */
  skip(id) {
    const isOut = this.reading.skipped.has(id);
    this.#keep([this.#event(isOut ? "keep" : "skip", { part: id })], {});
  }

  /** Move a part that is still to come past its neighbour. */
  move(id, by) {
    const ids = this.parts.map((part) => part.id);
    const open = this.parts.filter((part) => !this.reading.starts.has(part.id)).map((part) => part.id);
    const other = open[open.indexOf(id) + by];
    if (other === undefined) return;
    const [from, to] = [ids.indexOf(id), ids.indexOf(other)];
    [ids[from], ids[to]] = [ids[to], ids[from]];
    const base = this.getShow().parts.map((part) => part.id);
    const order = ids.filter((each) => base.includes(each));
    this.#keep([this.#event("order", { order, base })], { order: ids });
    this.say(`Moved ${by < 0 ? "up" : "down"}.`);
  }

  /** Take the order the sheet has now for what is still to come. */
  takeOrder() {
    const order = this.store.state.order ?? this.parts.map((part) => part.id);
    this.store.change({ order: adoptOrder(order, this.getShow(), this.reading) });
    this.say("The new order is taken.");
  }

  /** Strike a thing to say, or the next one that is not struck. */
  said(part, key) {
    const struck = new Set(this.store.state.said[part] ?? []);
    if (struck.has(key)) struck.delete(key);
    else struck.add(key);
    this.store.change({ said: { ...this.store.state.said, [part]: [...struck] } });
  }

  /** Hide the picture from the audience, or show it again. */
  blank() {
    this.store.change({ isBlank: !this.store.state.isBlank });
    this.say(this.store.state.isBlank ? "The picture is hidden." : "The picture is shown.");
  }

  #look(part, step = 0) {
    return { view: { part, step } };
  }

  #moment() {
    return Math.round(this.clock.now());
  }

  #event(kind, values) {
    return { id: newId(), kind, at_ms: this.#moment(), ...values };
  }

  #keep(events, values) {
    const log = joinLogs(this.store.state.log, events);
    this.store.change({ ...values, log });
    for (const event of events) this.queue.add(event);
  }
}
