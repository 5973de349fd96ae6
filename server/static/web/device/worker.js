// Keeps the notebook's page for a time without network. The server writes above this what KEPT is: a language, the
// addresses of the page and its files, and a version that changes with any of them. Nothing else is ever kept or looked at.

const NAME = `notebook-${KEPT.language}-`;
const OURS = NAME + KEPT.version;

self.addEventListener("install", (event) => {
  // Fetched without cookies: what is kept is what anybody would get.
  const fresh = KEPT.addresses.map((address) => new Request(address, { cache: "reload", credentials: "omit" }));
  event.waitUntil(caches.open(OURS).then((kept) => kept.addAll(fresh)).then(() => self.skipWaiting()));
});

self.addEventListener("activate", (event) => {
  const drop = async () => {
    const names = await caches.keys();
    await Promise.all(names.filter((name) => name.startsWith(NAME) && name !== OURS).map((name) => caches.delete(name)));
    await self.clients.claim();
  };
  event.waitUntil(drop());
});

self.addEventListener("fetch", (event) => {
  const address = new URL(event.request.url);
  if (event.request.method !== "GET" || address.origin !== self.location.origin) return;
  if (!KEPT.addresses.includes(address.pathname)) return;
  // Opening what is gone would make it anew, so it is only looked for.
  const found = caches.match(address.pathname, { cacheName: OURS, ignoreVary: true });
  event.respondWith(found.then((kept) => kept ?? fetch(event.request)));
});
