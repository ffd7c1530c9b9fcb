// The run sheet: drag a row by its number, Alt with arrows, spoken length while typing a script.
const sheetOf = () => document.getElementById("sheet");

/** Ask the desk to move a row to a place, through the row's own form. */
function move(row, place) {
  const form = row.querySelector("form.order");
  if (!form || place < 1) return;
  window.htmx.ajax("POST", form.getAttribute("hx-post"), {
    target: "#sheet",
    swap: "outerHTML",
    values: { place, version: sheetOf().dataset.version },
    source: form,
  });
}

function armRows() {
  for (const row of document.querySelectorAll("#sheet tbody tr")) {
    if (row.querySelector("form.order")) row.draggable = true;
  }
}

let lifted = null;
let focusPart = null;

document.addEventListener("dragstart", (event) => {
  const row = event.target.closest?.("#sheet tbody tr[draggable]");
  if (!row) return;
  lifted = row;
  row.dataset.lifted = "";
  event.dataTransfer.effectAllowed = "move";
  event.dataTransfer.setData("text/plain", row.dataset.part);
});

function clearMarks() {
  for (const row of document.querySelectorAll("[data-drop]")) delete row.dataset.drop;
}

document.addEventListener("dragover", (event) => {
  const row = lifted && event.target.closest?.("#sheet tbody tr");
  if (!row) return;
  event.preventDefault();
  clearMarks();
  const box = row.getBoundingClientRect();
  row.dataset.drop = event.clientY < box.top + box.height / 2 ? "before" : "after";
});

document.addEventListener("drop", (event) => {
  const row = lifted && event.target.closest?.("#sheet tbody tr");
  if (!row) return;
  event.preventDefault();
  const from = Number(lifted.dataset.place);
  let to = Number(row.dataset.place) + (row.dataset.drop === "after" ? 1 : 0);
  if (to > from) to -= 1;
  if (to !== from) move(lifted, to);
});

document.addEventListener("dragend", () => {
  if (lifted) delete lifted.dataset.lifted;
  lifted = null;
  clearMarks();
});

document.addEventListener("keydown", (event) => {
  if (!event.altKey || (event.key !== "ArrowUp" && event.key !== "ArrowDown")) return;
  const row = event.target.closest?.("#sheet tbody tr");
  if (!row) return;
  event.preventDefault();
  const step = event.key === "ArrowUp" ? -1 : 1;
  const place = Number(row.dataset.place) + step;
  if (place < 1 || place > row.parentElement.rows.length) return;
  focusPart = { part: row.dataset.part, id: event.target.id };
  move(row, place);
});

document.body.addEventListener("htmx:beforeRequest", (event) => {
  const row = event.target.closest?.("#sheet tbody tr");
  const active = document.activeElement;
  if (row && !focusPart) focusPart = { part: row.dataset.part, id: row.contains(active) ? active.id : "" };
});

/** Give the forms beside the sheet the version that is seen now that the sheet was redrawn. */
function carryVersion() {
  for (const input of document.querySelectorAll("input[data-sheet-version]")) {
    input.value = sheetOf().dataset.version;
  }
}

document.body.addEventListener("htmx:afterSettle", () => {
  armRows();
  carryVersion();
  if (!focusPart) return;
  const row = document.querySelector(`#sheet tr[data-part="${focusPart.part}"]`);
  // Keep focus on the moved part: the same control if it still can be pressed, else the other one.
  const same = focusPart.id && document.getElementById(focusPart.id);
  const target = same && !same.disabled && same.checkVisibility() ? same : row?.querySelector("button:not(:disabled), a");
  target?.focus();
  focusPart = null;
});

armRows();

const part = document.querySelector("form[data-part]");
if (part) {
  const script = part.querySelector("textarea[name=script]");
  const points = part.querySelector("textarea[name=talking_points]");
  const output = part.querySelector("[data-spoken]");
  const { wpm, factor, cautions } = part.dataset;
  const count = (text) => text.split(/\s+/).filter((word) => /[\p{L}\p{N}]/u.test(word)).length;

  /** Say how long the words take, by the same rule as the sheet: the script, or else the points. */
  function sayLength() {
    const written = count(script.value);
    const said = written || Math.ceil(count(points.value) * Number(factor));
    const words = said + Number(cautions);
    const seconds = Math.ceil((words * 60) / Number(wpm));
    const length = `${Math.floor(seconds / 60)}:${String(seconds % 60).padStart(2, "0")}`;
    const basis = !written && said ? " from talking points" : "";
    output.textContent = `${length} to speak: ${words} words${basis} at ${wpm} a minute; pictures and fixed time come on top`;
  }
  script.addEventListener("input", sayLength);
  points.addEventListener("input", sayLength);
}
