// What the report form and the private page do better with a script: photos go up one by one as
// they are chosen, fields that do not apply step aside, and the page's address can be copied.
import { say } from "./desk.js";
import { watchParts } from "./parts.js";
import { Uploads } from "./uploads.js";

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
