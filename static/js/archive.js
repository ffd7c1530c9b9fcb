// Correcting where segments begin, by keyboard and by ear: one line of the show holds the focus,
// single keys act on it, and a recording on this computer plays along without being sent anywhere.
import { onKey, say } from "./desk.js";

const KINDS = { 1: "intro", 2: "case", 3: "notice", 4: "outro" };
const player = document.querySelector("[data-player]");
const lines = () => [...document.querySelectorAll(".lines li")];
const segmentOf = (line) => line.closest(".segment");
let video = null;
let backTo = ""; // where the focus goes once a step is taken

/** Let one line alone take part in the order of tabs, so that the page stays short to step through. */
function settle(line) {
  for (const other of document.querySelectorAll(".lines li[tabindex='0']")) other.tabIndex = -1;
  if (line) line.tabIndex = 0;
}

function focusLine(line) {
  if (!line) return;
  settle(line);
  line.focus({ preventScroll: true });
  line.scrollIntoView({ block: "nearest" });
}

/** Send one step through the page's own form. */
function step(what, line, more = {}) {
  const form = document.querySelector("[data-by-key]");
  if (!form) return;
  // A boundary that moves takes the focus along, so that the same key moves it on.
  backTo = what === "earlier" || what === "later"
    ? `#segment-${segmentOf(line).dataset.place} .lines li`
    : `.lines li[data-cue="${line.dataset.cue}"]`;
  form.elements.do.value = what;
  form.elements.place.value = more.place ?? segmentOf(line).dataset.place;
  form.elements.second.value = more.second ?? "";
  form.elements.kind.value = more.kind ?? "";
  form.requestSubmit();
}

function toBeginning(line, way) {
  const all = [...document.querySelectorAll(".segment .lines li:first-child")];
  const mine = segmentOf(line).querySelector(".lines li");
  const now = all.indexOf(mine);
  focusLine(way < 0 && line !== mine ? mine : all[now + way]);
}

function move(line, way) {
  const all = lines();
  focusLine(all[all.indexOf(line) + way]);
}

const actions = {
  ArrowDown: (line) => move(line, 1),
  ArrowUp: (line) => move(line, -1),
  n: (line) => toBeginning(line, 1),
  b: (line) => toBeginning(line, -1),
  s: (line) => step("split", line, { second: line.dataset.s }),
  h: (line) => step("here", line, { second: line.dataset.s }),
  e: (line) => step("here", line, { second: line.dataset.s, place: Number(segmentOf(line).dataset.place) + 1 }),
  ",": (line) => step("earlier", line),
  ".": (line) => step("later", line),
  m: (line) => step("merge", line),
  u: (line) => step("undo", line),
  p: (line) => play(line),
};
const MOVES = ["ArrowDown", "ArrowUp", "n", "b"];

onKey((event) => {
  const line = event.target.closest?.(".lines li");
  if (!line || (event.repeat && !MOVES.includes(event.key))) return;
  if (event.key in KINDS) step("kind", line, { kind: KINDS[event.key] });
  else if (event.key in actions) actions[event.key](line);
  else return;
  event.preventDefault();
});

/** Play from a line, or pause when it is playing. */
function play(line) {
  if (!video) {
    say("Choose a recording on this computer first.");
    return;
  }
  if (!video.paused) {
    video.pause();
    return;
  }
  video.currentTime = Number(line.dataset.s);
  video.play();
}

/** Mark the line that is being said. */
function follow() {
  const all = lines();
  let low = 0;
  let high = all.length;
  while (low < high) {
    const middle = (low + high) >> 1;
    if (Number(all[middle].dataset.s) <= video.currentTime + 0.05) low = middle + 1;
    else high = middle;
  }
  const line = all[low - 1];
  if (!line || line.hasAttribute("aria-current")) return;
  for (const other of document.querySelectorAll(".lines li[aria-current]")) other.removeAttribute("aria-current");
  line.setAttribute("aria-current", "true");
  if (!video.paused && !document.activeElement?.closest(".fix")) line.scrollIntoView({ block: "nearest" });
}

/** Open a file in the page; its address is one of this page's memory alone. */
function open(file) {
  if (!video) {
    video = document.createElement("video");
    video.controls = true;
    const track = document.createElement("track");
    Object.assign(track, { kind: "captions", srclang: "en", label: "Captions", src: player.dataset.captions });
    video.append(track);
    video.addEventListener("timeupdate", follow);
    video.addEventListener("error", () => say("This browser cannot play that file."));
    player.append(video);
    player.dataset.playing = "";
  }
  if (video.src) URL.revokeObjectURL(video.src);
  video.src = URL.createObjectURL(file);
  say(`${file.name} is open. Press p in a line to play from there.`);
}

player.hidden = false;
player.querySelector("input").addEventListener("change", (event) => {
  if (event.target.files.length) open(event.target.files[0]);
});

document.addEventListener("click", (event) => {
  const line = event.target.closest(".lines li");
  if (!line || event.target.closest("a")) return;
  focusLine(line);
});

function begin() {
  for (const line of lines()) line.tabIndex = -1;
  settle(document.querySelector(".lines li[aria-current]") ?? document.querySelector(".lines li"));
  const help = document.querySelector("[data-key-help]");
  if (help && "keys" in document.body.dataset) help.hidden = false;
}

document.body.addEventListener("htmx:afterSettle", (event) => {
  if (event.detail.target?.id !== "segments" && !document.getElementById("segments")?.contains(event.detail.target)) return;
  begin();
  if (backTo) focusLine(document.querySelector(backTo));
  backTo = "";
});

begin();
