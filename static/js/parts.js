// Parts of a form that step aside while they do not apply.

/** Show parts of a form only when they apply; what a server refused is always shown. */
export function watchParts(form) {
  const arrange = () => {
    for (const part of form.querySelectorAll("[data-shown-when], [data-shown-unless]")) {
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
