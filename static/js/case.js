// The case page by keyboard, and the focus after a part of it was replaced.
import { onKey } from "./desk.js";
import { moveAmong } from "./keys.js";
import "./zoom.js";

onKey((event) => {
  if (event.repeat || document.querySelector("dialog[open]")) return;
  if (event.target.matches?.("input[type=radio]")) return; // letters there belong to the browser
  if (event.key === "j" || event.key === "k") {
    event.preventDefault();
    moveAmong(document.querySelectorAll(".steps a"), event.key === "j" ? 1 : -1)?.click();
  } else if (event.key === "t") {
    document.querySelector("[data-take]")?.click();
  } else if (event.key === "q") {
    document.querySelector(".tabs a")?.click();
  }
});

// A button may be gone after the swap it caused; the section's heading is the place to go on from.
const homes = { thinking: "verdict", "case-notes": "keep-note", "case-facts": "facts-edit" };
document.body.addEventListener("htmx:afterSettle", (event) => {
  const home = homes[event.detail.target?.id];
  if (!home || (document.activeElement && document.activeElement !== document.body)) return;
  const place = document.getElementById(home);
  if (!place) return;
  if (place.matches("h3")) place.tabIndex = -1;
  (place.querySelector("summary") ?? place).focus();
});

// Two findings pressed quickly: the first answer takes away the form the second one came from, and
// htmx then finds no page for the parts that come along. They are put in their places here.
document.body.addEventListener("htmx:oobErrorNoTarget", (event) => {
  const part = event.detail.content;
  const old = document.getElementById(part?.id);
  if (!old) return;
  part.removeAttribute("hx-swap-oob");
  old.replaceWith(part);
});
