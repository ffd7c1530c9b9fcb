// What every page of the desk needs: spoken notices, keys, the find palette.
const said = document.getElementById("said");

/** Speak a sentence once through the page's live region. */
export function say(words) {
  said.textContent = "";
  requestAnimationFrame(() => { said.textContent = words; });
}

document.body.addEventListener("htmx:afterRequest", (event) => {
  const words = event.detail.xhr?.getResponseHeader("Desk-Said");
  if (words) say(decodeURIComponent(words));
});

document.body.addEventListener("htmx:responseError", (event) => {
  say(`The desk could not do that (${event.detail.xhr.status}). Nothing was changed; please try again.`);
});

document.body.addEventListener("htmx:sendError", () => {
  say("The desk cannot be reached. What you wrote is still here; please try again.");
});

document.body.addEventListener("htmx:beforeRequest", (event) => {
  event.detail.target?.setAttribute("aria-busy", "true");
});
document.body.addEventListener("htmx:afterSettle", (event) => {
  event.detail.target?.removeAttribute("aria-busy");
});

/** True while the person types, so that single keys are theirs. */
export function isTyping(target) {
  return Boolean(target.closest?.("input:not([type=radio], [type=checkbox]), textarea, select, [contenteditable]"));
}

/** Call `handle(event)` for single keys, unless switched off, in a field, or with a modifier. */
export function onKey(handle) {
  document.addEventListener("keydown", (event) => {
    if (!("keys" in document.body.dataset)) return;
    if (event.ctrlKey || event.metaKey || event.altKey || event.isComposing) return;
    if (isTyping(event.target)) return;
    handle(event);
  });
}

onKey((event) => {
  if (event.key === "/") {
    event.preventDefault();
    document.getElementById("find")?.showPopover();
    document.getElementById("find-words")?.focus();
  }
});
