// Outcomes due by keyboard: move, copy the words, note that somebody was asked.
import { onKey, say } from "./desk.js";
import { moveAmong } from "./keys.js";

const rows = () => document.querySelectorAll("#due-rows h2 a");

onKey((event) => {
  if (event.key === "j" || event.key === "k") {
    event.preventDefault();
    moveAmong(rows(), event.key === "j" ? 1 : -1);
  } else if (!event.repeat && (event.key === "c" || event.key === "a")) {
    const card = document.activeElement?.closest("#due-rows article");
    const button = card?.querySelector(event.key === "c" ? "[data-copy]" : "button.main");
    if (button) button.click();
    else say("Move to a case first, with j or k.");
  }
});

// The case that was pressed is gone: the next one, or the empty list, is where to go on.
document.body.addEventListener("htmx:afterSettle", (event) => {
  if (event.detail.target?.id !== "due-rows" && event.target.id !== "due-rows") return;
  (rows()[0] ?? document.querySelector("#due-rows .empty"))?.focus();
});
