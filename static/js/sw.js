// Keeps the pages at the table and of the store's work on the phone, so that a reload without a signal still shows them.
// Only what is listed in KEPT is ever kept: never a POST, never a page with money on it. What pages send goes through
// their outbox, not here.

const PAGES = "pages-1";
const STATIC = "static-1";
const KEPT = [
  /^\/events\/\d+\/pieces\/\d+\/table\/(\d+\/)?$/,
  /^\/stock\/(work|(picks|returns)\/\d+|count(\/\d+)?)\/$/,
];
const HASHED = /\.[0-9a-f]{12}\.\w+$/;
const PATIENCE = 3_000;
const KEPT_FOR = 36 * 3600 * 1000;
const SAVED = "x-saved-at";

const isKept = (url) => url.origin === location.origin && KEPT.some((shape) => shape.test(url.pathname));
const isStatic = (url) => url.origin === location.origin && url.pathname.startsWith("/static/");

self.addEventListener("install", () => {}); // a newer one waits until the page says that its outbox is empty
self.addEventListener("activate", (event) => event.waitUntil(settleIn()));

async function settleIn() {
  for (const name of await caches.keys()) if (![PAGES, STATIC].includes(name)) await caches.delete(name);
  await purge();
  await self.clients.claim();
}

self.addEventListener("fetch", (event) => {
  const url = new URL(event.request.url);
  if (event.request.method !== "GET") return;
  if (isStatic(url)) event.respondWith(fromStatic(event.request, url));
  else if (event.request.mode === "navigate" && isKept(url)) event.respondWith(fromNetworkFirst(event));
});

async function fromStatic(request, url) {
  const box = await caches.open(STATIC);
  const kept = await box.match(request);
  if (kept && HASHED.test(url.pathname)) return kept;
  try {
    const answer = await fetch(request);
    if (answer.ok) await box.put(request, answer.clone());
    return answer;
  } catch (trouble) {
    if (kept) return kept;
    throw trouble;
  }
}

async function fromNetworkFirst(event) {
  const answer = fetchAndKeep(event.request);
  event.waitUntil(answer.catch(() => null));
  const late = new Promise((done) => setTimeout(done, PATIENCE));
  const first = await Promise.race([answer.catch(() => null), late]);
  if (first) return first;
  return (await keptPage(event.request)) ?? answer;
}

async function fetchAndKeep(request) {
  const answer = await fetch(request);
  // A redirect leads to the sign-in page: that is not the page that was asked for.
  if (answer.ok && !answer.redirected) await keep(request.url, answer.clone());
  return answer;
}

async function keep(address, answer) {
  const headers = new Headers(answer.headers);
  headers.set(SAVED, String(Date.now()));
  const box = await caches.open(PAGES);
  await box.put(address, new Response(await answer.blob(), { status: 200, headers }));
}

async function keptPage(request) {
  await purge();
  const box = await caches.open(PAGES);
  return (await box.match(request)) ?? box.match(request, { ignoreSearch: true });
}

async function purge() {
  const box = await caches.open(PAGES);
  for (const request of await box.keys()) {
    const answer = await box.match(request);
    if (!(Date.now() - Number(answer?.headers.get(SAVED)) < KEPT_FOR)) await box.delete(request);
  }
}

// {save: [addresses], files: [addresses]} answers {saved, of}; "swap" lets a newer one take over; "wipe" forgets all.
self.addEventListener("message", (event) => {
  if (event.data === "swap") self.skipWaiting();
  else if (event.data === "wipe") event.waitUntil(Promise.all([caches.delete(PAGES), caches.delete(STATIC)]));
  else if (event.data?.save) event.waitUntil(saveAll(event.data).then((told) => event.ports[0]?.postMessage(told)));
});

async function saveAll({ save, files }) {
  await purge();
  let saved = 0;
  for (const address of save) {
    const url = new URL(address, location.origin);
    if (!isKept(url)) continue;
    try {
      const answer = await fetch(url, { credentials: "same-origin" });
      if (!answer.ok || answer.redirected) continue;
      await keep(url.href, answer);
      saved += 1;
    } catch {
      // no signal: what was kept before stays
    }
  }
  const box = await caches.open(STATIC);
  for (const file of files ?? []) {
    const url = new URL(file, location.origin);
    if (isStatic(url) && !(await box.match(url.href))) await box.add(url.href).catch(() => null);
  }
  return { saved, of: save.length };
}
