// The script in big type: a clicker or keys move through it, plus and minus change the size.
const script = document.querySelector(".script");
const parts = [...document.querySelectorAll(".script-part")];
const sizes = { least: 1, most: 7 };
const bar = document.querySelector(".script-bar");

/** Return how far a press moves: a screen less the bar and two lines to keep one's place. */
function screenStep() {
  const line = parseFloat(getComputedStyle(script).fontSize) * 1.4;
  return Math.max(line, window.innerHeight - bar.offsetHeight - 2 * line);
}

function scrollBy(distance) {
  window.scrollBy({ top: distance, behavior: "auto" });
}

/** Go to the next part below the bar, or to the one before. */
function goToPart(step) {
  const edge = bar.offsetHeight + 8;
  const tops = parts.map((part) => part.getBoundingClientRect().top - edge);
  const index = step > 0 ? tops.findIndex((top) => top > 8) : tops.findLastIndex((top) => top < -8);
  const part = parts[index] ?? (step < 0 ? parts[0] : null);
  if (!part) return;
  part.focus({ preventScroll: true });
  scrollBy(part.getBoundingClientRect().top - edge);
}

/** Set the type's size, keep the part being read in its place, and remember it in the address. */
function setSize(size) {
  const wanted = Math.min(sizes.most, Math.max(sizes.least, size));
  const reading = parts.find((part) => part.getBoundingClientRect().bottom > bar.offsetHeight) ?? script;
  const before = reading.getBoundingClientRect().top;
  script.dataset.type = String(wanted);
  scrollBy(reading.getBoundingClientRect().top - before);
  const address = new URL(window.location.href);
  address.searchParams.set("size", String(wanted));
  window.history.replaceState(null, "", address);
  for (const link of document.querySelectorAll("[data-size]")) {
    const next = wanted + (link.dataset.size === "larger" ? 1 : -1);
    link.href = `?size=${Math.min(sizes.most, Math.max(sizes.least, next))}`;
  }
}

const actions = {
  " ": () => scrollBy(screenStep()),
  PageDown: () => scrollBy(screenStep()),
  PageUp: () => scrollBy(-screenStep()),
  ArrowRight: () => goToPart(1),
  ArrowLeft: () => goToPart(-1),
};
const sizeActions = {
  "+": () => setSize(Number(script.dataset.type) + 1),
  "=": () => setSize(Number(script.dataset.type) + 1),
  "-": () => setSize(Number(script.dataset.type) - 1),
};
// Keys that are characters can be switched off in the settings; a clicker sends none of these.
if (document.body.hasAttribute("data-keys")) Object.assign(actions, sizeActions);

document.addEventListener("keydown", (event) => {
  if (event.altKey || event.ctrlKey || event.metaKey) return;
  if (event.key === " " && event.target.closest("a, button")) return;
  const action = event.key === " " && event.shiftKey ? actions.PageUp : actions[event.key];
  if (!action) return;
  event.preventDefault();
  action();
});

document.addEventListener("click", (event) => {
  const link = event.target.closest("[data-size]");
  if (!link) return;
  event.preventDefault();
  setSize(Number(script.dataset.type) + (link.dataset.size === "larger" ? 1 : -1));
});
