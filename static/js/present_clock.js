// The clock of a show: wall-clock time from a monotonic source, never counted by ticks.
const JUMP_MS = 1000;

/**
 * Tells the time of day without ever following the computer's clock once it runs.
 *
 * Its base is taken once, corrected once against the desk's time, and every reading is the base
 * plus the monotonic source. `offset_ms` is how far the computer's clock was behind the desk's
 * when that was last measured, for pages that open without network.
 */
export class ShowClock {
  constructor({ monotonic = () => performance.now(), wall = () => Date.now(), offset_ms = 0 } = {}) {
    this.monotonic = monotonic;
    this.wall = wall;
    this.skew_ms = wall() - monotonic();
    this.base_ms = this.skew_ms + offset_ms;
    this.isCorrected = false;
  }

  /** Return the moment in milliseconds since 1970. */
  now() {
    return this.base_ms + this.monotonic();
  }

  /** Set the base by the exchange that was fastest; each is {sent, received, server_ms}. */
  correct(exchanges) {
    const lengths = exchanges.map((each) => each.received - each.sent);
    const best = exchanges[lengths.indexOf(Math.min(...lengths))];
    if (!best) return;
    this.base_ms = best.server_ms - (best.sent + best.received) / 2;
    this.isCorrected = true;
    this.settle();
  }

  /** Return how far the computer's clock is behind the desk's, to be remembered. */
  offset() {
    return Math.round(this.now() - this.wall());
  }

  /** Return True when the computer's clock was set or the computer slept since the last look. */
  hasJumped() {
    return Math.abs(this.wall() - this.monotonic() - this.skew_ms) > JUMP_MS;
  }

  /** Take the computer's clock as it is now for the next comparison. */
  settle() {
    this.skew_ms = this.wall() - this.monotonic();
  }
}

/** Return the whole seconds a countdown shows: 1 until the last second is over, below 0 after. */
export function shownSeconds(left_ms) {
  return Math.ceil(left_ms / 1000) || 0;
}

/** Return milliseconds until a countdown's figure changes. */
export function untilNextSecond(left_ms) {
  const rest = ((left_ms % 1000) + 1000) % 1000;
  return rest || 1000;
}

/** Return seconds as m:ss, or h:mm:ss from one hour on, with a true minus. */
export function spell(seconds) {
  const total = Math.abs(Math.round(seconds));
  const [hours, minutes, rest] = [Math.floor(total / 3600), Math.floor(total / 60) % 60, total % 60];
  const two = (value) => String(value).padStart(2, "0");
  const words = hours ? `${hours}:${two(minutes)}:${two(rest)}` : `${minutes}:${two(rest)}`;
  return seconds < 0 ? `−${words}` : words;
}

/** Return how seconds over (+) or under (−) are shown: a class, a shape and words. */
export function verdict(over_s) {
  if (over_s > 0) return { name: "over", mark: "up", words: `+${spell(over_s)} over` };
  if (over_s < 0) return { name: "under", mark: "down", words: `${spell(over_s)} under` };
  return { name: "even", mark: "even", words: "to time" };
}
