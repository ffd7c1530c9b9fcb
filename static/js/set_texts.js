// Recurring texts: a button below the boxes of the case page puts one in where the cursor is.
import { say } from "./desk.js";
import { moveAmong } from "./keys.js";

const BOXES = new Map([["ask-words", "ask"], ["answer-body", "answer"], ["note-body", "note"]]);
const SHORTCUT = "."; // with Alt
const address = document.getElementById("case-texts")?.dataset.address;
let box = null; // the box that gets the text
let place = [0, 0]; // what was selected in it: a browser may forget it behind a dialog
let dialog = null;

/** Return what parts words from the text beside them: as much as is missing to a blank line. */
function gap(beside) {
  return beside === "" ? "" : "\n\n".slice(Math.min(2, /^\n*/.exec(beside)[0].length));
}

/** Put words where the cursor is, apart from what stands before and after them. */
function putIn(words) {
  const [start, end] = place;
  const before = [...box.value.slice(0, start)].reverse().join("");
  const after = box.value.slice(end);
  box.setRangeText(gap(before) + words + gap(after), start, end, "end");
  box.dispatchEvent(new Event("input", { bubbles: true }));
}

function makeDialog() {
  const made = document.createElement("dialog");
  made.className = "text-dialog";
  made.setAttribute("aria-labelledby", "texts-h");
  const heading = document.createElement("h2");
  heading.id = "texts-h";
  heading.textContent = "Recurring texts";
  const content = document.createElement("div");
  const shut = document.createElement("button");
  shut.type = "button";
  shut.className = "button small";
  shut.textContent = "Close";
  shut.addEventListener("click", () => made.close());
  made.append(heading, content, shut);
  made.addEventListener("close", () => box?.focus());
  made.addEventListener("click", (event) => {
    const chosen = event.target.closest("[data-words]");
    if (!chosen) return;
    made.close();
    putIn(chosen.dataset.words);
    say("The text is in. Please read it before it goes out.");
  });
  made.addEventListener("input", narrow);
  made.addEventListener("keydown", move);
  document.body.append(made);
  return made;
}

function shown() {
  return [...dialog.querySelectorAll("[data-words]")].filter((button) => !button.closest("li").hidden);
}

/** Show only the texts that hold every word typed. */
function narrow(event) {
  const wanted = event.target.value.toLowerCase().split(/\s+/);
  for (const button of dialog.querySelectorAll("[data-words]")) {
    const words = button.textContent.toLowerCase();
    button.closest("li").hidden = !wanted.every((word) => words.includes(word));
  }
}

function move(event) {
  if (event.key === "ArrowDown" || event.key === "ArrowUp") {
    event.preventDefault();
    moveAmong(shown(), event.key === "ArrowDown" ? 1 : -1);
  } else if (event.key === "Enter" && event.target.id === "text-find") {
    event.preventDefault();
    shown()[0]?.click();
  }
}

async function open(field) {
  box = field;
  place = [field.selectionStart, field.selectionEnd];
  dialog ??= makeDialog();
  // The live region of the page tells when the texts cannot be fetched.
  await window.htmx.ajax("GET", `${address}?box=${BOXES.get(field.id)}`, dialog.children[1]);
  if (!document.getElementById("text-choice")) return;
  if (!dialog.open) dialog.showModal();
  document.getElementById("text-find")?.focus();
}

/** Give each box its button, also after a part of the page was replaced. */
function decorate() {
  for (const id of BOXES.keys()) {
    const field = document.getElementById(id);
    if (!field || field.nextElementSibling?.dataset.textsFor === id) continue;
    const button = document.createElement("button");
    button.type = "button";
    button.className = "button small";
    button.dataset.textsFor = id;
    button.setAttribute("aria-keyshortcuts", "Alt+.");
    button.setAttribute("aria-haspopup", "dialog");
    button.append("Recurring texts ");
    const key = document.createElement("kbd");
    key.textContent = "Alt .";
    key.setAttribute("aria-hidden", "true");
    button.append(key);
    button.addEventListener("click", () => open(field));
    field.after(button);
  }
}

if (address) {
  document.addEventListener("keydown", (event) => {
    if (!event.altKey || event.ctrlKey || event.metaKey || event.key !== SHORTCUT) return;
    if (!BOXES.has(event.target.id)) return;
    event.preventDefault();
    open(event.target);
  });
  document.body.addEventListener("htmx:afterSettle", decorate);
  decorate();
}
