// What the report form and the private page do better with a script: photos go up one by one as
// they are chosen, fields that do not apply step aside, and the page's address can be copied.
import { say } from "./desk.js";
import { Uploads } from "./uploads.js";

/** Show parts of a form only when they apply; what a server refused is always shown. */
function watchParts(form) {
  const parts = form.querySelectorAll("[data-shown-when], [data-shown-unless]");
  const arrange = () => {
    for (const part of parts) {
      const rule = part.dataset.shownWhen ?? part.dataset.shownUnless;
      if (!rule) continue;
      const [name, value] = rule.split("=");
      const chosen = form.querySelector(`[name="${name}"]:checked`)?.value ?? "";
      const applies = "shownWhen" in part.dataset ? chosen === value : chosen !== value;
      part.hidden = !applies && !part.querySelector("[data-refused]");
    }
  };
  form.addEventListener("change", arrange);
  arrange();
}

/** Let a button copy a field. */
function watchCopying(button) {
  if (!navigator.clipboard) return;
  button.hidden = false;
  button.addEventListener("click", async () => {
    const field = document.getElementById(button.dataset.copy);
    field.select();
    await navigator.clipboard.writeText(field.value);
    say("The address is copied.");
    button.textContent = "Copied";
  });
}

for (const part of document.querySelectorAll("[data-uploads]")) new Uploads(part);
for (const form of document.querySelectorAll("main form")) watchParts(form);
for (const button of document.querySelectorAll("[data-copy]")) watchCopying(button);
// Older browsers do not give the focus to a section by itself.
document.querySelector(".refusals")?.focus();
