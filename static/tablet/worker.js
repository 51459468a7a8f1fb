// The service worker. It answers from this tablet what was taken along, and
// keeps out of everything else: no form, no stream, no sign-in, no board.
// BUILD, ASSETS and OFFLINE stand in front of this text when it is served.
const shell = "assets-" + BUILD;
const kept = "kept";
const patience = 3000;
const pages = /^\/runs(\/[0-9a-f-]{36}(\/(reading|fault|more|pen|cup))?)?$/;

addEventListener("install", (event) => {
  // The page is fetched as a stranger, so that nobody's name is in it.
  const offline = new Request(OFFLINE, { credentials: "omit", cache: "no-store" });
  event.waitUntil(caches.open(shell).then((cache) => cache.addAll([...ASSETS, offline])));
});

addEventListener("activate", (event) => event.waitUntil(settle()));

async function settle() {
  const old = (await caches.keys()).filter((name) => name.startsWith("assets-") && name !== shell);
  await Promise.all(old.map((name) => caches.delete(name)));
  await clients.claim();
}

// A new worker waits until a page with nothing left to send asks for it.
addEventListener("message", (event) => {
  if (event.data === "take over") skipWaiting();
});

addEventListener("fetch", (event) => {
  const { request } = event;
  const url = new URL(request.url);
  if (request.method !== "GET" || url.origin !== location.origin) return;
  if (url.pathname.startsWith("/assets/")) event.respondWith(asset(request));
  else if (request.mode === "navigate" && (url.pathname === OFFLINE || pages.test(url.pathname))) event.respondWith(page(request, url));
});

async function asset(request) {
  return (await caches.match(request)) ?? fetch(request);
}

// The network first; where it is silent, or the server is down behind it, what
// was seen last. Without a copy it is waited for.
async function page(request, url) {
  const seen = await lastSeen(url);
  const control = new AbortController();
  const timer = seen ? setTimeout(() => control.abort(), patience) : 0;
  try {
    const answer = await fetch(request, { signal: control.signal });
    if (answer.status < 500 || !seen) return answer;
  } catch {
    // no network
  } finally {
    clearTimeout(timer);
  }
  return dated(seen ?? (await caches.match(OFFLINE)));
}

async function lastSeen(url) {
  const cache = await caches.open(kept);
  return cache.match(url, { ignoreSearch: !url.pathname.endsWith("/reading") });
}

// A copy says of itself when it was made.
async function dated(copy) {
  const at = Date.parse(copy.headers.get("date") ?? "") || 0;
  const html = (await copy.text()).replace("<html ", `<html data-seen="${at}" `);
  return new Response(html, { headers: copy.headers });
}
