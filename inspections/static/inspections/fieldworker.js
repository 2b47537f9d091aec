// The service worker of the page Inspect. The view puts FIELD before it: {version, shell, files,
// places}; where workers know modules, sendAll too. What the ledger answers is never kept here.
"use strict";
const NAME = `at-the-hammer-${FIELD.version}`;
const PATIENCE_MS = 3000;

self.addEventListener("install", (event) => event.waitUntil(fill()));
self.addEventListener("activate", (event) => event.waitUntil(settle()));
self.addEventListener("message", (event) => event.data === "take over" && self.skipWaiting());
self.addEventListener("sync", (event) => {
  if (event.tag === "outbox" && typeof sendAll === "function") event.waitUntil(sendWaiting());
});
self.addEventListener("fetch", (event) => {
  const { request } = event;
  const url = new URL(request.url);
  if (request.method !== "GET" || url.origin !== self.location.origin) return;
  if (request.mode === "navigate") {
    if (url.pathname === FIELD.shell) event.respondWith(shell(request));
  } else if (FIELD.files.includes(url.pathname)) event.respondWith(kept(request));
});

// All of one version or nothing: a page is never put together from two.
async function fill() {
  const cache = await caches.open(NAME);
  const page = await fetch(FIELD.shell, { cache: "no-store" });
  if (!isOurs(page))
    throw new Error("the page is of another version: tried again at the next visit");
  await cache.addAll(FIELD.files.map((file) => new Request(file, { cache: "no-cache" })));
  await cache.put(FIELD.shell, page);
}

async function settle() {
  for (const name of await caches.keys()) {
    if (name.startsWith("at-the-hammer-") && name !== NAME) await caches.delete(name);
  }
  await self.clients.claim();
}

// From the network where it answers soon and with this version; else as kept.
async function shell(request) {
  const own = await (await caches.open(NAME)).match(FIELD.shell);
  const answered = fetch(request);
  const late = new Promise((resolve) => setTimeout(resolve, PATIENCE_MS, null));
  const fresh = await Promise.race([answered, late]).catch(() => null);
  return fresh && isOurs(fresh) ? fresh : (own ?? answered);
}

async function kept(request) {
  return (await (await caches.open(NAME)).match(request, { ignoreSearch: true })) ?? fetch(request);
}

const isOurs = (answer) => answer.ok && answer.headers.get("X-Field-Version") === FIELD.version;

async function sendWaiting() {
  // The browser tries again later where this fails.
  if (await sendAll(FIELD.places)) throw new Error("some still wait");
}
