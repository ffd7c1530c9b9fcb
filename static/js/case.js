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

// The step in sight is marked in the list of steps.
const links = new Map([...document.querySelectorAll(".steps a")].map((link) => [link.hash.slice(1), link]));
const inSight = new Set();
let asked = "";
function markStep(name) {
  for (const [other, link] of links) {
    if (other === name) link.setAttribute("aria-current", "step");
    else link.removeAttribute("aria-current");
  }
}
const watcher = new IntersectionObserver((entries) => {
  for (const { target, isIntersecting } of entries) {
    if (isIntersecting) inSight.add(target.id);
    else inSight.delete(target.id);
  }
  if (!inSight.has(asked)) asked = "";
  markStep(asked || [...links.keys()].find((name) => inSight.has(name)));
}, { rootMargin: "-20% 0px -75% 0px" });
function watchSteps() {
  watcher.disconnect();
  inSight.clear();
  for (const name of links.keys()) {
    const part = document.getElementById(name);
    if (part) watcher.observe(part);
  }
}
// Two steps may stand side by side: the one that was asked for is the present one, with the focus.
for (const [name, link] of links) {
  link.addEventListener("click", () => {
    const part = document.getElementById(name);
    if (part) part.tabIndex = -1;
    setTimeout(() => {
      part?.focus({ preventScroll: true });
      asked = name;
      inSight.add(name);
      markStep(name);
    });
  });
}
watchSteps();
document.body.addEventListener("htmx:afterSettle", watchSteps);

// A button may be gone after the swap it caused; the section's heading is the place to go on from.
const homes = { thinking: "verdict", "case-notes": "keep-note", "case-facts": "facts-edit" };
document.body.addEventListener("htmx:afterSettle", (event) => {
  const home = homes[event.detail.target?.id];
  if (!home) return;
  if (document.activeElement && document.activeElement !== document.body) {
    document.activeElement.scrollIntoView({ block: "nearest" });
    return;
  }
  const pressed = event.detail.requestConfig?.elt?.querySelector?.("button")?.id ?? "";
  const place = document.getElementById(pressed.replace("confirm-", "confirmed-")) ?? document.getElementById(home);
  if (!place) return;
  if (place.matches("h3")) place.tabIndex = -1;
  const shut = place.closest("details:not([open])");
  (shut?.querySelector("summary") ?? place.querySelector("summary") ?? place).focus();
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
