// Service worker. SHELL (version, pages, bundles, bundled, fallbacks) is written in front by server/web/shell.py.
const CURRENT = `shell-${SHELL.version}`;
const SEEN = "seen-pages";
const PATIENCE_MS = 3000;
const TYPES = { js: "text/javascript", css: "text/css", svg: "image/svg+xml" };

self.addEventListener("install", (event) => {
  event.waitUntil(keepShell());
});

async function keepShell() {
  try {
    const cache = await caches.open(CURRENT);
    for (const path of SHELL.bundles) await unpack(cache, path); // first, so that a device that has not joined is told no by one request
    await Promise.all([...SHELL.pages, ...SHELL.fallbacks].map((path) => keepPage(cache, path)));
  } catch (error) {
    await caches.delete(CURRENT); // never leave a half-filled shell behind
    throw error;
  }
}

// A guest keeps the pages that it may read. Joining again as something else makes the shell anew.
async function keepPage(cache, path) {
  const answer = await fetch(path, { cache: "reload" });
  if (answer.status === 403) return;
  if (!answer.ok) throw new Error(`${path}: ${answer.status}`);
  await cache.put(path, answer);
}

// Many small files in one answer, for one request and better compression; each is kept under its own address.
async function unpack(cache, path) {
  const answer = await fetch(path, { cache: "reload" });
  if (!answer.ok) throw new Error(`${path}: ${answer.status}`);
  const files = Object.entries(await answer.json());
  await Promise.all(files.map(([address, text]) => cache.put(address, new Response(text, { headers: headersOf(answer, address) }))));
}

function headersOf(answer, address) {
  const headers = new Headers(answer.headers);
  for (const name of ["content-encoding", "content-length", "vary"]) headers.delete(name);
  headers.set("content-type", `${TYPES[address.split(".").at(-1)] ?? "text/html"}; charset=utf-8`);
  return headers;
}

self.addEventListener("activate", (event) => {
  event.waitUntil(tidyAndClaim());
});

async function tidyAndClaim() {
  const names = await caches.keys();
  await Promise.all(names.filter((n) => n !== CURRENT).map((n) => caches.delete(n))); // seen pages name files of the old shell
  await self.clients.claim();
}

self.addEventListener("message", (event) => {
  if (event.data === "skip-waiting") self.skipWaiting();
});

self.addEventListener("fetch", (event) => {
  const request = event.request;
  const url = new URL(request.url);
  if (request.method !== "GET" || url.origin !== location.origin) return;
  if (url.pathname.startsWith("/sync/") || url.pathname === "/sw.js" || url.pathname === "/health") return;
  if (url.pathname.endsWith(".zip")) return; // may take longer than any page, and an old one is of no use
  if (url.pathname === "/") event.respondWith(Response.redirect("/glass"));
  else if (url.pathname.startsWith("/static/")) event.respondWith(fromCacheFirst(request));
  else if (url.pathname.startsWith("/frag/")) event.respondWith(fragment(request));
  else if (SHELL.pages.includes(url.pathname) || SHELL.bundled.includes(url.pathname)) event.respondWith(fromCacheFirst(request));
  else event.respondWith(fromNetworkFirst(request));
});

async function fromCacheFirst(request) {
  const shell = await caches.open(CURRENT);
  const kept = await shell.match(request, { ignoreSearch: true });
  if (kept) return kept;
  try {
    return await fetch(request);
  } catch (error) {
    if (request.mode !== "navigate") throw error;
    return (await shell.match("/offline")) || Response.error();
  }
}

async function fromNetworkFirst(request) {
  const seen = await caches.open(SEEN);
  try {
    const answer = await fetch(request, { signal: AbortSignal.timeout(PATIENCE_MS) });
    if (answer.ok && !answer.redirected) await seen.put(request, answer.clone());
    return answer;
  } catch {
    const shell = await caches.open(CURRENT);
    const kept = (await seen.match(request)) || (await shell.match(request, { ignoreSearch: true }));
    if (kept) return kept;
    if (request.mode === "navigate") return (await shell.match("/offline")) || Response.error();
    return Response.error();
  }
}

async function fragment(request) {
  try {
    return await fetch(request, { signal: AbortSignal.timeout(PATIENCE_MS) });
  } catch {
    return new Response("", { status: 503, statusText: "Desk not reachable" });
  }
}
