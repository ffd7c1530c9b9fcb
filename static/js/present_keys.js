// Keys and clickers. Clickers send page keys to step, and B or a full stop to hide the picture.
const STEPS = {
  ArrowRight: "forward", ArrowDown: "forward", PageDown: "forward",
  ArrowLeft: "back", ArrowUp: "back", PageUp: "back",
  " ": "nextPart", Home: "first",
};
const LETTERS = {
  b: "blank", ".": "blank", s: "said", o: "order", w: "notes", p: "pictureOnly", f: "fullScreen", n: "nextPart",
};

const isPressed = (target) => Boolean(target.closest?.("button, a, summary"));

/** Call `act(name)` for keys, and for buttons that name what they do. */
export function listen(act, { hasLetters }) {
  document.addEventListener("keydown", (event) => {
    if (event.ctrlKey || event.metaKey || event.altKey || event.isComposing) return;
    if (event.target.closest?.("input, textarea, select, dialog[open]")) return;
    // A held key, or a clicker that bounces, must not race through the show.
    const name = STEPS[event.key] ?? (hasLetters ? LETTERS[event.key.toLowerCase()] : undefined);
    if (!name || (event.key === " " && isPressed(event.target))) return;
    event.preventDefault();
    if (!event.repeat) act(name);
  });
  document.addEventListener("click", (event) => {
    const button = event.target.closest("[data-do]");
    if (!button) return;
    act(button.dataset.do, button);
    // After a press by hand the keys belong to the show again, not to the button.
    if (event.detail && !button.closest("dialog")) button.blur();
  });
}
