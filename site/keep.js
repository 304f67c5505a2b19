/* Keeps what was visited, so that it can be read with no signal. Pages come from the network first;
   a saved page says when it was saved and that it may have been withdrawn since. */
'use strict';
const version = "fb61a92008ffc225";
const first = ["find/index-data.js","find/index.html","index.html","look/face-bold.woff2","look/face.woff2","look/find.js","look/hand.js","look/look.css","look/mark.svg","mistake/index.html","trade-words/index.html"];
const store = 'sheets-' + version;

self.addEventListener('install', (event) => {
  event.waitUntil(caches.open(store)
    .then((cache) => Promise.all(first.map((path) => keep(cache, new Request(path, { cache: 'no-cache' })))))
    .then(() => self.skipWaiting()));
});

/* A new site drops what the old one kept, once it has fetched the same pages again. */
self.addEventListener('activate', (event) => {
  event.waitUntil((async () => {
    const fresh = await caches.open(store);
    for (const name of await caches.keys()) {
      if (name === store || !name.startsWith('sheets-')) continue;
      const old = await caches.open(name);
      for (const request of await old.keys()) {
        if (await fresh.match(request)) continue;
        try { await keep(fresh, request); } catch (offline) { await fresh.put(request, await old.match(request)); }
      }
      await caches.delete(name);
    }
    await self.clients.claim();
  })());
});

async function keep(cache, request) {
  const answer = await fetch(request);
  if (answer.ok) await put(cache, request, answer);
  else await cache.delete(request);
  return answer;
}

async function put(cache, request, answer) {
  const headers = new Headers(answer.headers);
  headers.set('x-saved', new Date().toISOString().slice(0, 10));
  headers.delete('content-encoding');
  headers.delete('content-length');
  await cache.put(request, new Response(await answer.clone().blob(), { status: answer.status, headers }));
}

/* The saved page, with its notice shown and dated. */
async function dated(saved) {
  const headers = new Headers(saved.headers);
  const page = await saved.text();
  return new Response(
    page.replace(' hidden data-kept', '').replace('{date}', headers.get('x-saved') || '?'),
    { status: 200, headers });
}

self.addEventListener('fetch', (event) => {
  const request = event.request;
  if (request.method !== 'GET' || new URL(request.url).origin !== self.location.origin) return;
  const url = new URL(request.url);
  url.search = '';
  url.hash = '';
  if (url.pathname.endsWith('/')) url.pathname += 'index.html';
  const name = url.href;
  event.respondWith((async () => {
    const cache = await caches.open(store);
    try {
      const answer = await fetch(request);
      if (answer.ok && !answer.redirected) event.waitUntil(put(cache, name, answer.clone()));
      if (answer.status === 404 || answer.status === 410) event.waitUntil(cache.delete(name));
      return answer;
    } catch (offline) {
      const saved = await cache.match(name);
      if (!saved) return Response.error();
      return (saved.headers.get('content-type') || '').startsWith('text/html') ? dated(saved) : saved;
    }
  })());
});
