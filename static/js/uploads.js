// Photos of a form that is not sent yet: they go up one by one as they are chosen.
import { say } from "./desk.js";

const SECOND_MS = 1000;

/** Return an element with a class, words and attributes. */
function make(tag, { classes = "", words = "", ...attributes } = {}) {
  const element = document.createElement(tag);
  if (classes) element.className = classes;
  if (words) element.textContent = words;
  for (const [name, value] of Object.entries(attributes)) element.setAttribute(name, value);
  return element;
}

/** Return a size in words. */
function inMegabytes(bytes) {
  return `${Math.max(0.1, bytes / 1048576).toFixed(1)} MB`;
}

/** The photos of one form: a queue that sends one file at a time. */
export class Uploads {
  constructor(part) {
    this.part = part;
    this.form = part.closest("form");
    this.list = part.querySelector(".uploads");
    this.input = part.querySelector("input[type=file]");
    this.waiting = [];
    this.current = null;
    this.wantsSending = false;
    this.input.addEventListener("change", () => this.add());
    this.list.addEventListener("click", (event) => this.press(event));
    this.form.addEventListener("submit", (event) => this.hold(event));
    const place = part.querySelector(".drop");
    place.addEventListener("dragover", (event) => event.preventDefault());
    place.addEventListener("drop", (event) => {
      event.preventDefault();
      this.add(event.dataTransfer.files);
    });
    part.dataset.lively = "";
  }

  /** Queue the chosen files. */
  add(files = this.input.files) {
    const chosen = [...files];
    this.input.value = ""; // or the form would send them a second time
    for (const file of chosen) this.queue(file);
    this.next();
  }

  queue(file) {
    const row = make("li", { classes: "upload", tabindex: "-1" });
    this.list.append(row);
    const why = this.refuse(file);
    if (why) this.showRefused(row, file.name, why);
    else {
      this.showOnItsWay(row, file);
      this.waiting.push({ file, row });
    }
  }

  /** Return why a file need not be sent at all, or "". */
  refuse(file) {
    const { maxPhotos, maxBytes, maxBytesWords } = this.part.dataset;
    const there = this.list.querySelectorAll("li:not([data-refused])").length;
    if (!file.size) return `“${file.name}” is empty. Please choose it again or remove it.`;
    if (file.size > Number(maxBytes)) return `“${file.name}” is larger than ${maxBytesWords}. Please send a smaller copy of it.`;
    if (there > Number(maxPhotos)) return `“${file.name}” is one too many: we take ${maxPhotos} photos at a time. Please remove another one first.`;
    return "";
  }

  showOnItsWay(row, file) {
    const text = make("div", { classes: "flow" });
    const name = make("p");
    name.append(make("strong", { words: file.name, dir: "auto" }));
    const bar = make("progress", { max: "100", value: "0", "aria-label": `${file.name} on its way` });
    const words = make("p", { classes: "quiet", words: `Waiting, ${inMegabytes(file.size)}` });
    const buttons = make("p");
    buttons.append(this.button("Stop", file.name, "stop"));
    text.append(name, bar, words, buttons);
    row.replaceChildren(make("div", { classes: "noshow quiet", words: "on its way" }), text);
  }

  showRefused(row, name, why) {
    row.dataset.refused = "";
    const text = make("div", { classes: "flow" });
    const title = make("p");
    title.append(make("strong", { words: name, dir: "auto" }));
    const error = make("p", { classes: "error" });
    error.append(make("span", { classes: "mark", "data-mark": "caution", "aria-hidden": "true" }), ` ${why}`);
    const buttons = make("p", { classes: "row" });
    buttons.append(this.button("Choose again", name, "again"), this.button("Remove", name, "drop"));
    text.append(title, error, buttons);
    row.replaceChildren(make("div", { classes: "noshow quiet", words: "no picture" }), text);
    say(why);
    this.wantsSending = false;
    this.tellSending("");
  }

  button(words, name, act) {
    const button = make("button", { classes: "button small", type: "button", "data-act": act, words });
    button.append(make("span", { classes: "unseen", words: ` ${name}` }));
    return button;
  }

  /** Send the next file unless one is on its way. */
  next() {
    if (this.current) return;
    const item = this.waiting.shift();
    if (!item) {
      this.finish();
      return;
    }
    this.current = item;
    const data = new FormData();
    data.append("csrfmiddlewaretoken", this.form.elements.csrfmiddlewaretoken.value);
    data.append("draft_key", this.form.elements.draft_key.value);
    data.append("photo", item.file);
    const request = new XMLHttpRequest();
    item.request = request;
    item.since = Date.now();
    request.open("POST", this.part.dataset.to);
    request.upload.addEventListener("progress", (event) => this.progress(item, event));
    request.addEventListener("load", () => this.done(item, request));
    request.addEventListener("error", () => this.failed(item, `“${item.file.name}” did not arrive: the desk cannot be reached. Please choose it again.`));
    request.addEventListener("abort", () => this.drop(item.row, item));
    request.send(data);
  }

  progress(item, event) {
    if (!event.lengthComputable) return;
    const share = event.loaded / event.total;
    item.row.querySelector("progress").value = Math.round(share * 100);
    const passed = (Date.now() - item.since) / SECOND_MS;
    const left = Math.round(passed / share - passed);
    const rest = left >= 2 ? `, about ${left} seconds to go` : "";
    item.row.querySelector(".quiet:not(.noshow)").textContent = share < 1
      ? `${Math.round(share * 100)}% of ${inMegabytes(item.file.size)} is here${rest}`
      : "All here, we are looking at it";
  }

  done(item, request) {
    if (request.status === 422 || request.status === 429) return this.failed(item, request.responseText);
    if (request.status !== 200) return this.failed(item, `“${item.file.name}” could not be kept (${request.status}). Please choose it again.`);
    // The answer is one entry rendered by the desk itself, with every name escaped.
    const entry = new DOMParser().parseFromString(request.responseText, "text/html").querySelector("li");
    const known = document.getElementById(entry.id);
    if (known && known !== item.row) {
      item.row.remove();
      say(`${item.file.name} was here already.`);
    } else {
      const hadFocus = item.row.contains(document.activeElement);
      item.row.replaceWith(entry);
      this.preview(entry, item.file);
      if (hadFocus) entry.querySelector("input").focus();
      say(`${item.file.name} received.`);
    }
    this.current = null;
    this.next();
  }

  /** Show the picture from the person's own disk until the desk's is ready. */
  preview(entry, file) {
    const place = entry.querySelector(".noshow");
    if (!place) return;
    const picture = make("img", { width: "80", height: "80", alt: "" });
    picture.addEventListener("load", () => {
      place.replaceWith(picture);
      URL.revokeObjectURL(picture.src);
    });
    picture.addEventListener("error", () => URL.revokeObjectURL(picture.src));
    picture.src = URL.createObjectURL(file);
  }

  failed(item, why) {
    this.showRefused(item.row, item.file.name, why);
    this.current = null;
    this.next();
  }

  /** Do what a button of an entry says. */
  press(event) {
    const button = event.target.closest("button");
    if (!button) return;
    const row = button.closest("li");
    const { act } = button.dataset;
    if (act === "stop") {
      const item = this.waiting.find((each) => each.row === row);
      if (item) this.drop(row, item);
      else this.current?.request.abort();
    } else if (act === "drop" || act === "again") {
      this.drop(row, null);
      if (act === "again") this.input.click();
    } else if (button.name === "remove") {
      event.preventDefault();
      this.remove(row, button.value);
    }
  }

  /** Take an entry off the page and move the focus to what comes next. */
  drop(row, item) {
    this.waiting = this.waiting.filter((each) => each !== item);
    if (item && this.current === item) this.current = null;
    const neighbour = row.nextElementSibling ?? row.previousElementSibling;
    row.remove();
    (neighbour?.querySelector("button") ?? this.input).focus();
    this.next();
  }

  async remove(row, value) {
    const name = row.querySelector("strong").textContent;
    const data = new FormData();
    data.append("csrfmiddlewaretoken", this.form.elements.csrfmiddlewaretoken.value);
    data.append("draft_key", this.form.elements.draft_key.value);
    data.append("remove", value);
    try {
      const response = await fetch(this.part.dataset.remove, { method: "POST", body: data });
      if (!response.ok) throw new Error(response.statusText);
    } catch {
      say(`${name} could not be removed. Please try again.`);
      return;
    }
    this.drop(row, null);
    say(`${name} removed.`);
  }

  /** Keep the form back while photos are on their way, and send it once they are here. */
  hold(event) {
    if (!this.current && !this.waiting.length) return;
    if (event.submitter?.name === "remove") return;
    event.preventDefault();
    this.wantsSending = true;
    this.tellSending("We send it as soon as the last photo is here.");
    say("We send it as soon as the last photo is here.");
  }

  tellSending(words) {
    const place = this.form.querySelector("[data-sending]");
    if (place && (words || place.dataset.told)) {
      place.textContent = words;
      place.dataset.told = "yes";
    }
  }

  finish() {
    if (!this.wantsSending) return;
    this.wantsSending = false;
    this.form.requestSubmit();
  }
}
