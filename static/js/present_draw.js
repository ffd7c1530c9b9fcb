// Puts a show on the page. Each place is built again only when what stands in it changed.
import { shownSeconds, spell, verdict } from "./present_clock.js";
import { drawMarks } from "./present_marks.js";
import { textKey } from "./present_plan.js";

const at = (name) => document.querySelector(`[data-at="${name}"]`);
const built = new Map();

/** Return an element with properties and children. */
export function el(name, values = {}, ...children) {
  const { data = {}, ...rest } = values;
  const node = Object.assign(document.createElement(name), rest);
  Object.assign(node.dataset, data);
  node.append(...children);
  return node;
}

/** Return a shape that stands beside its word. */
export function markOf(name) {
  const node = el("span", { className: "mark", data: { mark: name } });
  node.setAttribute("aria-hidden", "true");
  return node;
}

/** Build a place anew when its content differs from what was built; focus stays where it was. */
function fill(name, content, build) {
  const signature = JSON.stringify(content);
  if (built.get(name) === signature) return;
  built.set(name, signature);
  const place = at(name);
  const focused = place.contains(document.activeElement) ? document.activeElement.id : "";
  place.replaceChildren(...build());
  if (focused) document.getElementById(focused)?.focus();
}

function text(name, words) {
  const place = at(name);
  if (place.textContent !== words) place.textContent = words;
}

const sign = ({ name, mark, words }) => el("span", { className: name }, markOf(mark), ` ${words}`);

/** Return things to say that are struck once they were said, each with its key. */
export function sayables(part) {
  const list = [
    ...part.cautions.map((words) => ({ words, isCaution: true })),
    ...part.points.map((words) => ({ words, isCaution: false })),
  ];
  return list.map((each) => ({ ...each, key: textKey(each.words) }));
}

function drawSay(part, struck) {
  const items = sayables(part).map((each) => ({ ...each, isSaid: struck.includes(each.key) }));
  const names = part.said_as.map(({ name, said_as }) => `${name} is said “${said_as}”`);
  const rest = { script: part.script, question: part.question, credits: part.credits, names, mentions: part.mentions, links: part.links };
  fill("say", [part.id, items, rest], () => {
    const nodes = [];
    if (items.length) nodes.push(el("ul", { className: "points" }, ...items.map((item) => pointOf(part.id, item))));
    if (rest.question) nodes.push(el("p", { dir: "auto" }, el("strong", {}, "Ask: "), rest.question));
    if (rest.credits.length) nodes.push(el("p", { dir: "auto" }, el("strong", {}, "Credit: "), rest.credits.join("; ")));
    for (const words of rest.mentions) nodes.push(el("p", { dir: "auto" }, markOf("caution"), " ", words));
    for (const words of rest.names) nodes.push(el("p", { dir: "auto", className: "names" }, words));
    if (rest.script) {
      const lines = rest.script.split(/\n\s*\n/).map((words) => el("p", { dir: "auto" }, words));
      nodes.push(el("div", { className: "script-words flow" }, ...lines));
    }
    return nodes.length ? nodes : [el("p", { className: "quiet" }, "Nothing is written for this part.")];
  });
}

function pointOf(part, { words, key, isCaution, isSaid }) {
  const button = el("button", { type: "button", className: "point", dir: "auto", id: `say-${part}-${key}`, data: { do: "point", key, part } });
  button.setAttribute("aria-pressed", String(isSaid));
  const strong = isCaution ? [markOf("danger"), " ", el("strong", {}, "Say aloud: ")] : [];
  if (isSaid) button.append(el("span", { className: "unseen" }, "Said: "), el("s", {}, ...strong, words));
  else button.append(...strong, words);
  return el("li", isSaid ? { data: { done: "" } } : {}, button);
}

function drawShot(model, pictures) {
  const { part, steps, step } = model.view;
  const place = at("shot");
  const { picture: index, marks } = steps[step];
  const picture = part?.pictures[index];
  const image = picture && pictures.get(picture.id);
  const content = [part?.id, picture?.id, picture?.alt, marks, model.isBlank, Boolean(image), part?.do_not_show, part?.isGone, picture?.marks];
  const signature = JSON.stringify(content);
  if (built.get("shot") === signature) return;
  built.set("shot", signature);
  place.toggleAttribute("data-blank", model.isBlank);
  if (image) {
    image.alt = picture.alt;
    const drawing = drawMarks(picture.marks, marks, image.naturalWidth, image.naturalHeight);
    place.replaceChildren(image, drawing, el("p", { className: "hidden-words" }, "Hidden from the audience."));
  } else {
    place.replaceChildren(cardOf(model, picture));
  }
  const words = marks ? `: ${picture.marks[marks - 1].words}` : "";
  const count = picture?.marks.length ?? 0;
  const ofMarks = count ? `, ${marks ? `mark ${marks}` : "no mark yet"} of ${count}` : "";
  text("step", picture ? `Picture ${index + 1} of ${part.pictures.length}${ofMarks}${words}` : "No picture in this part.");
}

/** Return what stands in place of a picture: never words that only the presenter may read. */
function cardOf(model, picture) {
  const own = model.view.part?.do_not_show ? "Do not show." : picture ? "This picture is not loaded yet." : "";
  return el("div", { className: "title-card" },
    el("p", { className: "card-title" }, model.show.title),
    el("p", { className: "for-presenter" }, own));
}

function drawStop(part) {
  const reasons = part?.do_not_show ? [part.do_not_show] : part?.blocked ?? [];
  at("stop").hidden = !reasons.length;
  const word = part?.do_not_show ? "Do not show. " : "Blocked. ";
  fill("stop", [word, reasons], () => [markOf("no"), el("p", {}, el("strong", {}, word), reasons.join(" "))]);
}

function drawNext(next, model) {
  fill("next", next ? [next.slug, next.presenter, next.planned_s] : "", () => {
    if (!next) return [model.isOver ? "The show is over." : "This is the last part."];
    const who = next.presenter ? ` · ${next.presenter}` : "";
    return [el("span", { className: "slug", dir: "auto" }, next.slug), `${who} · `, el("span", { className: "num" }, spell(next.planned_s))];
  });
}

function wordOf(part, reading) {
  if (part.do_not_show) return "do not show";
  if (reading.starts.has(part.id)) return part.id === reading.current ? "on now" : "done";
  return reading.skipped.has(part.id) ? "left out" : spell(part.planned_s);
}

function drawParts(model) {
  const rows = model.parts.map((part) => [part.id, part.slug, wordOf(part, model.reading)]);
  fill("parts", [rows, model.view.part?.id], () => rows.map(([id, slug, word], index) => {
    const item = el("li", {}, el("span", { className: "num" }, String(index + 1)), " ",
      el("span", { dir: "auto" }, slug), el("br"), el("span", { className: "num" }, word));
    if (word === "done") item.dataset.done = "";
    if (word === "do not show" || word === "left out") item.dataset.out = "";
    if (id === (model.reading.current ?? model.view.part?.id)) item.setAttribute("aria-current", "step");
    return item;
  }));
}

function drawComing(model) {
  const open = model.parts.filter((part) => !model.reading.starts.has(part.id));
  const rows = open.map((part) => [part.id, part.slug, wordOf(part, model.reading)]);
  if (!rows.length) {
    fill("coming", "", () => [el("li", {}, "Every part was on.")]);
    return;
  }
  fill("coming", [rows, model.isLive], () => rows.map(([id, slug, word], index) => {
    const press = (name, words, isShown = true) => isShown
      ? [el("button", { type: "button", className: "button small", id: `${name}-${id}`, data: { do: name, part: id } }, words, el("span", { className: "unseen" }, `: ${slug}`))]
      : [];
    return el("li", {},
      el("span", { className: "slug", dir: "auto" }, slug), " ", el("span", { className: "num" }, word),
      el("span", { className: "row" },
        ...press("up", "Up", index > 0), ...press("down", "Down", index < rows.length - 1),
        ...press("skip", word === "left out" ? "Put back" : "Leave out", word !== "do not show"),
        ...press("startNow", "Start now", model.isLive && word !== "do not show")));
  }));
}

function drawNotices(notices) {
  fill("notices", notices, () => notices.map(({ mark, words, buttons = [], link }) => {
    const box = el("div", { className: "notice" }, markOf(mark), el("span", {}, words));
    if (link) box.append(el("a", { href: link.href }, link.words));
    box.append(...buttons.map(([name, label, value = ""]) => el("button", { type: "button", className: "button small", data: { do: name, value } }, label)));
    return box;
  }));
}

/** Draw everything but the clocks. */
export function drawShow(model, pictures) {
  const { part } = model.view;
  const isElsewhere = model.isLive && part && part.id !== model.reading.current;
  const on = model.parts.find((each) => each.id === model.reading.current);
  text("place", String(model.parts.indexOf(part) + 1));
  text("count", String(model.parts.length));
  text("who", part?.presenter ? ` · ${part.presenter}` : "");
  text("slug", part?.slug ?? model.show.title);
  at("looking").hidden = !isElsewhere;
  text("looking", isElsewhere ? `You are looking at this part; “${on?.slug ?? "nothing"}” is on.` : "");
  fill("air", model.air, () => [markOf(model.air.mark), ` ${model.air.words}`]);
  drawShot(model, pictures);
  drawStop(part);
  if (part) drawSay(part, model.said[part.id] ?? []);
  drawNext(model.next, model);
  drawParts(model);
  drawComing(model);
  drawNotices(model.notices);
  text("kept", model.kept);
  text("ready", model.ready);
  const show = (name, isShown) => document.querySelectorAll(`[data-do="${name}"]`).forEach((each) => { each.hidden = !isShown; });
  show("onAir", !model.isLive && !model.isOver);
  show("askOffAir", model.isLive);
  show("takeBack", model.isLive && !isElsewhere && model.reading.starts.size > 1);
  show("nextPart", !model.isOver && Boolean(model.next));
}

/** Draw the clocks as they stand. */
export function drawClocks(times, model) {
  const { left_ms, showLeft_ms, over_ms, fixed } = times;
  const planned_s = model.view.part?.planned_s ?? 0;
  const left_s = left_ms === null ? planned_s : shownSeconds(left_ms);
  const slot_s = (model.show.end_ms - model.show.starts_ms) / 1000;
  text("part-clock", model.isOver ? "–" : spell(left_s));
  text("show-clock", model.isOver ? "–" : spell(model.isLive ? shownSeconds(showLeft_ms) : slot_s));
  const within = { name: "even", mark: "even", words: model.isLive ? "within its time" : "planned" };
  const ofPart = left_s < 0 ? verdict(-left_s) : within;
  const ofShow = verdict(Math.round(over_ms / 1000));
  fill("part-verdict", [ofPart, model.isOver], () => (model.isOver ? [] : [sign(ofPart)]));
  fill("show-verdict", [ofShow, model.isOver], () => (model.isOver ? [] : [sign(ofShow)]));
  at("part-clock").toggleAttribute("data-over", left_s < 0);
  for (const name of ["part-clock", "show-clock"]) at(name).toggleAttribute("data-long", at(name).textContent.length > 6);
  const words = fixed && !model.isOver ? verdict(Math.round(fixed.over_ms / 1000)) : null;
  fill("fixed", words && [fixed.part.slug, model.clockOf(fixed.part.hit_ms), words], () => words
    ? [`Land on ${model.clockOf(fixed.part.hit_ms)} for “${fixed.part.slug}”: `, sign(words)] : []);
}
