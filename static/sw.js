// Keeps the shell, so that the app opens without network. It holds no packet and no event, and sends nothing: the page
// does that. The list of files is written in by the server; another file means another list, and so a new worker.

const SHELL = {"build": "unbuilt", "page": "/tablet/", "files": []};

const KEPT = "bedside-shell-";
const CACHE = KEPT + SHELL.build;
const FILES = new Set(SHELL.files.map(file => file.url));

addEventListener("install", event => event.waitUntil(keepWhole()));
addEventListener("activate", event => event.waitUntil(takePlace()));
addEventListener("message", event => {
  if (event.data === "take-over") skipWaiting(); // only on a person's tap: never under a visit
});
addEventListener("fetch", event => {
  const url = shellUrl(event.request);
  if (url) event.respondWith(fromShell(event, url));
});

/** All files or none, each of exactly the bytes the server listed. */
async function keepWhole() {
  const fetched = await Promise.all(SHELL.files.map(fetchExact));
  const cache = await caches.open(CACHE);
  try {
    await Promise.all(fetched.map(([url, response]) => cache.put(url, response)));
  } catch (error) {
    await caches.delete(CACHE);
    throw error;
  }
}

async function fetchExact({ url, sha256 }) {
  const response = await fetch(url, { cache: "reload", redirect: "error", credentials: "same-origin" });
  const found = response.ok && await hashOf(await response.clone().arrayBuffer());
  if (found !== sha256) throw new Error(`${url} is not the file of this version.`);
  return [url, response];
}

async function hashOf(bytes) {
  const digest = await crypto.subtle.digest("SHA-256", bytes);
  return Array.from(new Uint8Array(digest), byte => byte.toString(16).padStart(2, "0")).join("");
}

async function takePlace() {
  const names = await caches.keys();
  await Promise.all(names.filter(name => name.startsWith(KEPT) && name !== CACHE).map(name => caches.delete(name)));
  await clients.claim();
}

/** The file of the shell a request is for, or null: everything else goes to the network and is kept nowhere. */
function shellUrl(request) {
  const { origin, pathname } = new URL(request.url);
  if (request.method !== "GET" || origin !== location.origin) return null;
  if (request.mode === "navigate") return pathname === SHELL.page ? SHELL.page : null;
  return FILES.has(pathname) && pathname !== SHELL.page ? pathname : null;
}

async function fromShell(event, url) {
  const cache = await caches.open(CACHE);
  return (await cache.match(url)) ?? fromNetwork(event);
}

/** The browser dropped the cache and kept the worker: mend it while there is a network. */
async function fromNetwork(event) {
  try {
    const response = await fetch(event.request);
    if (event.request.mode === "navigate") event.waitUntil(keepWhole().catch(() => {}));
    return response;
  } catch (error) {
    if (event.request.mode === "navigate") return lastResort();
    throw error;
  }
}

function lastResort() {
  const text = `<!doctype html><html lang="en"><meta charset="utf-8"><meta name="viewport" content="width=device-width">
<title>Bedside</title><h1>The app's files are gone from this tablet</h1>
<p>The browser dropped them, and there is no network to fetch them again.
What you recorded is kept apart from them: nothing needs to be entered twice.</p>
<p>Work on paper now. Carry the tablet to where the network is, and load this page again.</p></html>`;
  const headers = { "Content-Type": "text/html; charset=utf-8", "Content-Security-Policy": "default-src 'none'" };
  return new Response(text, { status: 503, headers });
}
