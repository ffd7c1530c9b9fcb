// The page a show is presented from: one show, one or more windows, with or without network.
import { ShowClock, untilNextSecond } from "./present_clock.js";
import { Control } from "./present_control.js";
import { Desk, LoggedOutError } from "./present_desk.js";
import { drawClocks, drawShow, sayables } from "./present_draw.js";
import { listen } from "./present_keys.js";
import { Pictures } from "./present_pictures.js";
import { compareOrders, findWithdrawn, mergeParts, nextOf, timesOf } from "./present_plan.js";
import { Queue } from "./present_queue.js";
import { Store } from "./present_store.js";

const POLL_MS = 5000;
const data = (id) => JSON.parse(document.getElementById(id).textContent);
const page = data("page-data");
let show = data("stage-data");
let parts = show.parts;
const live = document.getElementById("live");
const key = `printward-present-${show.number}-${page.person}`;
const offsetKey = "printward-clock-offset";
const files = [page.present, page.state, ...page.files];
const net = { isReached: true, isLoggedOut: false, notices: [] };
const progress = { kept: 0, wanted: 0 };

const knownOffset = localStorage.getItem(offsetKey);
const clock = new ShowClock({ offset_ms: Number(knownOffset ?? page.now_ms - Date.now()) || 0 });
const desk = new Desk({ page, token: document.body.dataset.token });
const times = new Intl.DateTimeFormat("en-GB", { timeStyle: "medium", timeZone: page.zone });

function say(words) {
  const said = document.getElementById("said");
  said.textContent = "";
  requestAnimationFrame(() => { said.textContent = words; });
}

const store = new Store({ key, onChange: () => draw() });
const queue = new Queue({ show: key, post: (events) => desk.send(events), onSent: keepSent, onTrouble: noteTrouble });
const control = new Control({ store, queue, clock, getShow: () => show, getParts: () => parts, say });
const pictures = new Pictures({
  number: show.number,
  person: page.person,
  onProgress: (kept, wanted) => { Object.assign(progress, { kept, wanted }); draw(); },
  onReady: () => draw(),
});

const isOver = () => show.is_out || control.reading.offAir_ms !== null;

// Sending and asking.

function noteTrouble(error) {
  net.isLoggedOut = error instanceof LoggedOutError;
  net.isReached = net.isLoggedOut;
  if (net.isLoggedOut) pictures.close(); // nobody is known here any more: nothing private stays
  draw();
}

function keepSent(results) {
  const kept = new Map(results.map((each) => [each.id, each.refusal]));
  for (const { refusal } of results) {
    if (refusal) notice({ mark: "no", words: refusal });
  }
  net.isReached = true;
  store.change({ log: store.state.log.map((each) => (kept.has(each.id) ? { ...each, sent: true, refusal: kept.get(each.id) } : each)) });
  poll();
}

function notice(values) {
  net.notices = [...net.notices, { ...values, id: String(Date.now() + Math.random()) }];
  say(values.words);
}

let polling = null;
function poll() {
  polling ??= ask().finally(() => { polling = null; });
  return polling;
}

async function ask() {
  try {
    const fresh = await desk.askState(show.digest);
    net.isReached = true;
    net.isLoggedOut = false;
    if (fresh) await take(fresh);
  } catch (error) {
    noteTrouble(error);
    return;
  }
  await queue.send();
  if (!clock.isCorrected || clock.hasJumped()) await setClock();
  if (progress.kept < progress.wanted) await load();
  await closeWhenOver();
  draw();
}

/** Take the show as the desk has it now; what may not be shown goes before anything else. */
async function take(fresh) {
  const merged = mergeParts(parts, fresh);
  const gone = findWithdrawn(parts, merged);
  [parts, show] = [merged, fresh];
  for (const part of gone.parts) {
    notice({ mark: "no", words: `Do not show “${part.slug}”. ${part.do_not_show}` });
  }
  draw();
  for (const id of gone.pictures) await pictures.drop(id);
  draw();
  await pictures.refresh([page.state, page.present]);
  await load();
}

async function load() {
  await pictures.load(parts.flatMap((part) => part.pictures), files);
}

async function setClock() {
  const exchanges = await desk.askTime();
  if (!exchanges.length) return;
  const before = clock.now();
  clock.correct(exchanges);
  const moved_ms = clock.now() - before;
  localStorage.setItem(offsetKey, String(clock.offset()));
  if (Math.abs(moved_ms) > 1000 && net.hasSetClock) {
    notice({ mark: "caution", words: `This computer slept or its clock was set; the clocks follow the desk again, by ${Math.round(moved_ms / 1000)} s.` });
  }
  net.hasSetClock = true;
}

/** Delete what was kept once the show is over and the desk knows everything. */
async function closeWhenOver() {
  if (!isOver() || queue.waiting.size || pictures.isClosed) return;
  await pictures.close();
  store.close();
  const found = await navigator.serviceWorker?.getRegistration(page.present);
  await found?.unregister();
}

// Drawing.

function keptWords() {
  const count = queue.waiting.size;
  if (!count) return net.isReached ? "Everything that happened here is kept at the desk." : "The desk cannot be reached. Go on: what happens is kept here and sent later.";
  const things = count === 1 ? "1 thing waits" : `${count} things wait`;
  return `${things} to be sent to the desk; nothing is lost, not even when this page closes.`;
}

function readyWords() {
  const { kept, wanted } = progress;
  if (pictures.isClosed) return "What was kept in this browser is deleted.";
  const isAll = kept === wanted;
  if (!pictures.canKeep) {
    return `Pictures in memory: ${kept} of ${wanted}. Keep this page open: without a secure address it cannot be opened again offline.`;
  }
  return `${isAll ? "Ready" : "Getting ready"} to go offline: ${kept} of ${wanted}.`;
}

function noticesOf(reading) {
  const list = net.notices.map(({ id, ...values }) => ({ ...values, buttons: [["dismiss", "Seen", id]] }));
  if (net.isLoggedOut) list.unshift({ mark: "caution", words: "You are logged out, or somebody else is logged in. The clocks go on and nothing is lost; log in to send what happened.", link: { href: page.login, words: "Log in" } });
  if (!control.isLive || queue.hasOrder() || !store.state.order) return list;
  const words = compareOrders(control.parts, show, reading);
  if (words.length && store.state.ignored !== show.parts.map((part) => part.id).join()) {
    list.unshift({ mark: "caution", words: `The run sheet was changed. ${words.join(" ")} What was shown stays, and the clocks go on.`, buttons: [["takeOrder", "Take the new order"], ["keepOrder", "Keep this order"]] });
  }
  return list;
}

function airOf({ onAir_ms, offAir_ms }) {
  if (show.is_out) return { mark: "shown", words: "This show is out; nothing is noted any more" };
  if (offAir_ms !== null) return { mark: "shown", words: `Off air since ${times.format(offAir_ms)}` };
  if (onAir_ms !== null) return { mark: "present", words: `On air since ${times.format(onAir_ms)}` };
  return { mark: "absent", words: `Not on air; planned for ${times.format(show.starts_ms)}` };
}

function modelOf() {
  const reading = control.reading;
  const ordered = control.parts;
  return {
    show, reading, parts: ordered, view: control.view, next: nextOf(ordered, reading),
    isLive: control.isLive, isOver: isOver(), isBlank: store.state.isBlank,
    said: store.state.said, notices: noticesOf(reading), kept: keptWords(), ready: readyWords(),
    air: airOf(reading), clockOf: (ms) => times.format(ms),
  };
}

let ticking = 0;
function draw() {
  const model = modelOf();
  drawShow(model, pictures);
  tick(model);
}

function tick(model = modelOf()) {
  clearTimeout(ticking);
  const found = timesOf(model.parts, model.reading, show, clock.now());
  drawClocks(found, model);
  const wait_ms = Math.min(untilNextSecond(found.left_ms ?? found.showLeft_ms), untilNextSecond(found.showLeft_ms));
  ticking = setTimeout(tick, wait_ms + 1);
}

// Acting.

function setView(name) {
  live.dataset.view = name;
  document.body.toggleAttribute("data-picture", name === "picture");
  sessionStorage.setItem(`${key}-view`, name);
}

const dialogs = { order: document.getElementById("order-dialog"), off: document.getElementById("off-dialog") };
const acts = {
  order: () => dialogs.order.showModal(),
  askOffAir: () => dialogs.off.showModal(),
  closeDialogs: () => Object.values(dialogs).forEach((dialog) => dialog.close()),
  offAir: () => { acts.closeDialogs(); control.offAir(); },
  up: (button) => control.move(Number(button.dataset.part), -1),
  down: (button) => control.move(Number(button.dataset.part), 1),
  skip: (button) => control.skip(Number(button.dataset.part)),
  startNow: (button) => { control.start(Number(button.dataset.part)); acts.closeDialogs(); },
  point: (button) => control.said(Number(button.dataset.part), Number(button.dataset.key)),
  dismiss: (button) => { net.notices = net.notices.filter((each) => each.id !== button.dataset.value); draw(); },
  keepOrder: () => store.change({ ignored: show.parts.map((part) => part.id).join() }),
  said: () => {
    const { part } = control.view;
    const open = part && sayables(part).find((each) => !(store.state.said[part.id] ?? []).includes(each.key));
    if (open) control.said(part.id, open.key);
  },
  onAir: () => {
    control.onAir();
    navigator.wakeLock?.request("screen").catch(() => {}); // only a kindness: the show goes on without it
  },
  notes: () => {
    const opened = window.open(`${page.present}?view=notes`, `${key}-notes`, "popup,width=1100,height=900");
    if (opened) setView("picture");
    else say("The browser did not open the window. Please allow windows for this desk.");
  },
  pictureOnly: () => setView(live.dataset.view === "picture" ? "all" : "picture"),
  fullScreen: () => {
    const change = document.fullscreenElement ? document.exitFullscreen() : document.documentElement.requestFullscreen?.();
    change?.catch(() => say("This browser keeps the page in its window."));
  },
};

function act(name, button) {
  if (name in acts) acts[name](button);
  else control[name]();
}

async function begin() {
  document.getElementById("plain").remove();
  live.hidden = false;
  const asked = new URLSearchParams(location.search).get("view");
  setView(["picture", "notes"].includes(asked) ? asked : sessionStorage.getItem(`${key}-view`) ?? "all");
  draw();
  const left = await queue.load(store.state.log.filter((event) => !event.sent));
  const unknown = left.filter((event) => !store.state.log.some((each) => each.id === event.id));
  if (unknown.length) store.change({ log: [...store.state.log, ...unknown].sort((a, b) => a.at_ms - b.at_ms) });
  listen(act, { hasLetters: page.has_keys });
  await pictures.forgetOthers(page.person);
  if (!isOver()) await pictures.register(page.worker, page.present);
  try {
    const kept = await desk.askState("");
    if (kept.digest !== show.digest) await take(kept);
  } catch (error) {
    noteTrouble(error);
  }
  if (!isOver()) await load();
  await setClock();
  await poll();
  setInterval(poll, POLL_MS);
  for (const name of ["online", "focus", "pageshow"]) addEventListener(name, poll);
  document.addEventListener("visibilitychange", () => { if (!document.hidden) { tick(); poll(); } });
  live.dataset.ready = "";
}

begin();
