// The conversation on the case page follows what is asked, answered and noted there.
const PARTS = new Set(["thinking", "case-notes", "answer-panel"]);

document.body.addEventListener("htmx:afterSettle", (event) => {
  if (!PARTS.has(event.detail.target?.id)) return;
  document.getElementById("case-conversation")?.dispatchEvent(new CustomEvent("said-something"));
});
