// Moving among a page's links with j and k.

/** Focus the link `step` places after the focused one, and return it. */
export function moveAmong(links, step) {
  const all = [...links];
  if (!all.length) return null;
  const now = all.findIndex((link) => link === document.activeElement || link.dataset.here === "yes");
  const next = now < 0 ? (step > 0 ? 0 : all.length - 1) : Math.min(all.length - 1, Math.max(0, now + step));
  for (const link of all) delete link.dataset.here;
  all[next].dataset.here = "yes";
  all[next].focus();
  all[next].scrollIntoView({ block: "nearest" });
  return all[next];
}
