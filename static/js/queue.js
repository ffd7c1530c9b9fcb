// The queue by keyboard: move, open, take, take the next one.
import { onKey, say } from "./desk.js";
import { moveAmong } from "./keys.js";

const rows = () => document.querySelectorAll(".job h3 a");

onKey((event) => {
  if (event.repeat && event.key !== "j" && event.key !== "k") return;
  if (event.key === "j" || event.key === "k") {
    event.preventDefault();
    moveAmong(rows(), event.key === "j" ? 1 : -1);
  } else if (event.key === "t") {
    const row = document.activeElement?.closest(".job");
    const take = row?.querySelector("[data-take]");
    if (take) take.click();
    else say(row ? `${row.querySelector(".job-who .quiet").textContent.trim()}.` : "Move to a case first, with j or k.");
  } else if (event.key === "n") {
    document.getElementById("take-next")?.requestSubmit();
  }
});

// A page of the queue replaces the link that was pressed: the focus goes to the heading above it.
document.body.addEventListener("htmx:afterSettle", (event) => {
  if (event.detail.requestConfig?.elt?.matches?.("[data-page]")) {
    document.getElementById("queue-rows-h")?.focus();
  }
});
