// The answer panel: copy a message, and a warning before words that are not saved are lost.
import { say } from "./desk.js";

let isDirty = false;

/** Copy buttons need script, so they appear only with it. */
function showCopyButtons() {
  for (const button of document.querySelectorAll("[data-copy][hidden]")) button.hidden = false;
  // With htmx the preview follows the typing by itself.
  for (const button of document.querySelectorAll("[data-guard] [data-plain]")) button.hidden = true;
}

async function copyFrom(field) {
  try {
    await navigator.clipboard.writeText(field.value);
    say("Copied.");
  } catch {
    field.focus();
    field.select();
    say("The text is selected; please copy it with your keyboard or menu.");
  }
}

document.addEventListener("click", (event) => {
  const button = event.target.closest("[data-copy]");
  if (button) copyFrom(document.getElementById(button.dataset.copy));
});

document.addEventListener("input", (event) => {
  if (event.target.closest("[data-guard]")) isDirty = true;
});
document.addEventListener("submit", (event) => {
  if (event.target.closest("#answer-panel")) isDirty = false;
});
window.addEventListener("beforeunload", (event) => {
  if (isDirty && document.querySelector("[data-guard]")) event.preventDefault();
});
document.body.addEventListener("htmx:afterSwap", (event) => {
  if (event.detail.target.id === "answer-panel" && event.detail.xhr.status < 400) isDirty = false;
});
// The button that was pressed may be gone: go on in the draft, or at the heading of the panel.
document.body.addEventListener("htmx:afterSettle", (event) => {
  showCopyButtons();
  if (event.detail.target?.id !== "answer-panel") return;
  if (document.activeElement && document.activeElement !== document.body) return;
  const place = document.getElementById("answer-body") ?? document.getElementById("answer-h");
  if (place?.matches("h1, h2")) place.tabIndex = -1;
  place?.focus();
});
showCopyButtons();
