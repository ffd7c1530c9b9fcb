// Whoever logs out leaves no show behind in this browser; nor does anybody whose log-in ran out.
const CACHES = "printward-show-";

async function forgetShows() {
  if (!("caches" in window)) return;
  const names = await caches.keys();
  await Promise.all(names.filter((name) => name.startsWith(CACHES)).map((name) => caches.delete(name)));
}

if (document.querySelector("input[type=password]")) forgetShows();

document.addEventListener("submit", async (event) => {
  const form = event.target;
  if (!form.action.endsWith("/accounts/logout")) return;
  event.preventDefault();
  try {
    await forgetShows();
  } finally {
    form.submit();
  }
});
