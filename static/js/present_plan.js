// What a show comes to: its steps, what is on, what comes next, when it ends, what was changed.

/** Return the steps of a part: each picture bare, then with one mark more each time. */
export function stepsOf(part) {
  const steps = (part?.pictures ?? []).flatMap((picture, index) =>
    Array.from({ length: picture.marks.length + 1 }, (_, marks) => ({ picture: index, marks })));
  return steps.length ? steps : [{ picture: -1, marks: 0 }];
}

/** Return what the events of a page, with what the desk knows of others, come to. */
export function readLog(log, show) {
  const found = { onAir_ms: show.on_air_ms, offAir_ms: show.off_air_ms, skipped: new Set() };
  const starts = new Map();
  const isStart = ({ kind }) => kind === "part" || kind === "undo";
  const told = new Set(log.filter(isStart).map((each) => each.part));
  for (const part of show.parts) {
    if (part.started_ms !== null && !told.has(part.id)) starts.set(part.id, part.started_ms);
  }
  for (const event of [...log].sort((a, b) => a.at_ms - b.at_ms)) {
    if (event.kind === "on_air") found.onAir_ms ??= event.at_ms;
    if (event.kind === "off_air") found.offAir_ms ??= event.at_ms;
    if (event.kind === "part") starts.set(event.part, event.at_ms);
    if (event.kind === "undo") starts.delete(event.part);
    if (event.kind === "skip") found.skipped.add(event.part);
    if (event.kind === "keep" || event.kind === "part") found.skipped.delete(event.part);
  }
  const last = [...starts].reduce((late, each) => (each[1] >= late[1] ? each : late), [null, -Infinity]);
  return { ...found, starts, current: last[0] };
}

/** Return the parts in the order this page goes by, each with its content as it is now. */
export function arrange(parts, order) {
  const known = new Map(parts.map((part) => [part.id, part]));
  return (order ?? [...known.keys()]).map((id) => known.get(id)).filter(Boolean);
}

/** Return whether a part may still come. */
export function isComing(part, reading) {
  return !reading.starts.has(part.id) && !reading.skipped.has(part.id) && !part.do_not_show;
}

/** Return the part that comes next, undefined after the last. */
export function nextOf(parts, reading) {
  return parts.find((part) => isComing(part, reading));
}

/** Return seconds left in the part that is on, and over or under of the show and its fixed time. */
export function timesOf(parts, reading, show, now_ms) {
  const current = parts.find((part) => part.id === reading.current);
  const left_ms = current ? reading.starts.get(current.id) + current.planned_s * 1000 - now_ms : null;
  let clock_ms = current ? now_ms + Math.max(0, left_ms) : Math.max(now_ms, show.starts_ms);
  let fixed = null;
  for (const part of parts.filter((each) => isComing(each, reading))) {
    if (part.hit_ms !== null) {
      fixed ??= { part, over_ms: clock_ms - part.hit_ms };
      clock_ms = Math.max(clock_ms, part.hit_ms);
    }
    clock_ms += part.planned_s * 1000;
  }
  return { left_ms, fixed, showLeft_ms: show.end_ms - now_ms, over_ms: clock_ms - show.end_ms };
}

/** Return the order after a sheet was changed: what was shown stays in front, the rest follows it. */
export function adoptOrder(order, fresh, reading) {
  const shown = order.filter((id) => reading.starts.has(id));
  return [...shown, ...fresh.parts.map((part) => part.id).filter((id) => !shown.includes(id))];
}

/** Return sentences about what another order brings, none when it is the same to come. */
export function compareOrders(parts, fresh, reading) {
  const isOpen = (part) => !reading.starts.has(part.id);
  const [ours, theirs] = [parts.filter(isOpen), fresh.parts.filter(isOpen)];
  const [ourIds, theirIds] = [ours.map((p) => p.id), theirs.map((p) => p.id)];
  const added = theirs.filter((part) => !ourIds.includes(part.id));
  const gone = ours.filter((part) => !theirIds.includes(part.id));
  const words = [
    ...added.map((part) => `New: “${part.slug}”.`),
    ...gone.map((part) => `Taken off: “${part.slug}”.`),
  ];
  const common = (ids, others) => ids.filter((id) => others.includes(id)).join();
  if (common(ourIds, theirIds) !== common(theirIds, ourIds)) {
    words.push(`The order to come is now: ${theirs.map((part) => part.slug).join(", ")}.`);
  }
  return words;
}

/**
 * Return the parts with everything as the desk has it now, and those that are no longer on the
 * sheet without their pictures: what may not be shown goes at once, whatever the order is.
 */
export function mergeParts(parts, fresh) {
  const freshIds = new Set(fresh.parts.map((part) => part.id));
  const gone = parts.filter((part) => !freshIds.has(part.id));
  return [...fresh.parts, ...gone.map((part) => ({ ...part, pictures: [], isGone: true }))];
}

/** Return the parts that may not be shown any more, and the pictures that went. */
export function findWithdrawn(before, after) {
  const idsOf = (parts) => new Set(parts.flatMap((part) => part.pictures.map((p) => p.id)));
  const left = idsOf(after);
  const old = new Map(before.map((part) => [part.id, part]));
  return {
    parts: after.filter((part) => part.do_not_show && !old.get(part.id)?.do_not_show),
    pictures: [...idsOf(before)].filter((id) => !left.has(id)),
  };
}

/** Return a short number for a text, so that no words are kept in the browser's own store. */
export function textKey(text) {
  let key = 5381;
  for (const letter of text) key = (key * 33 + letter.codePointAt(0)) >>> 0;
  return key;
}
