// Answers for the page of one show while there is no network, from what that page kept itself.
// It stores nothing: only addresses the page put into its cache can ever come from here.
const PREFIX = "printward-show-";
const PATIENCE_MS = 3000;
const LONGEST_MS = 14 * 3600 * 1000; // as long as a log-in lasts
const page = new URL(self.registration.scope).pathname;
const number = page.match(/episodes\/(\d+)\//)?.[1];

self.addEventListener("install", () => self.skipWaiting());
self.addEventListener("activate", (event) => event.waitUntil(self.clients.claim()));

const ownCaches = async () =>
  (await caches.keys()).filter((name) => name.startsWith(`${PREFIX}${number}-`));

async function forget() {
  await Promise.all((await ownCaches()).map((name) => caches.delete(name)));
}

async function findKept(request) {
  for (const name of await ownCaches()) {
    const cache = await caches.open(name);
    const shell = await cache.match(page);
    const age_ms = Date.now() - Date.parse(shell?.headers.get("date") ?? "");
    if (age_ms > LONGEST_MS) {
      await caches.delete(name);
      continue;
    }
    const isPage = new URL(request.url).pathname.startsWith(page);
    const found = await cache.match(request, { ignoreSearch: isPage, ignoreVary: true });
    if (found) return found;
  }
  return undefined;
}

/** True when the desk does not know who asks, or does not let them present any more. */
const isRefusal = (response) =>
  response.type === "opaqueredirect" || response.status === 403 || /\/accounts\/login/.test(response.url);

async function answer(request) {
  const isPrivate = new URL(request.url).pathname.startsWith(page);
  const fresh = fetch(request).then(async (response) => {
    if (isPrivate && isRefusal(response)) await forget();
    return response;
  });
  const kept = await findKept(request);
  if (!kept) return fresh;
  const patience = new Promise((resolve) => setTimeout(resolve, PATIENCE_MS, kept));
  return Promise.race([fresh.catch(() => kept), patience]);
}

self.addEventListener("fetch", (event) => {
  const { request } = event;
  if (request.method !== "GET" || new URL(request.url).origin !== self.location.origin) return;
  if (new URL(request.url).pathname === `${page}/time`) return; // a kept time is a wrong time
  event.respondWith(answer(request));
});
