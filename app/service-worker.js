// Keeps every file of one version in the browser, so that the page opens without a network. Before this stand
// VERSION and FILES: each file's path and digest.

const OURS = `evenkeel ${registration.scope} `;
const CACHE = OURS + VERSION;
const PATHS = new Set(FILES.map(([path]) => path));

const keep = async () => {
  const cache = await caches.open(CACHE);
  // One after the other: the page, which is being used, has the network first.
  for (const [path, integrity] of FILES) {
    if (await cache.match(path, { ignoreVary: true })) continue;
    // Names tell contents, except the page's own.
    const here = path === "./" ? undefined : await caches.match(path, { ignoreVary: true });
    const mode = path === "./" ? "no-cache" : "default";
    await cache.put(path, here ?? (await fetch(path, { integrity, cache: mode })));
  }
};

const clear = async () => {
  for (const name of await caches.keys()) {
    if (name.startsWith(OURS) && name !== CACHE) await caches.delete(name);
  }
};

const kept = async (path, request) => {
  const found = await (await caches.open(CACHE)).match(path, { ignoreVary: true });
  return found ?? fetch(request);
};

oninstall = (event) => event.waitUntil(keep());
onactivate = (event) => event.waitUntil(clear().then(() => clients.claim()));

onfetch = (event) => {
  const { href } = new URL(event.request.url);
  if (!href.startsWith(registration.scope)) return;
  const path = href.slice(registration.scope.length).split(/[?#]/)[0];
  const wanted = ["", "index.html"].includes(path) ? "./" : path;
  if (PATHS.has(wanted)) event.respondWith(kept(wanted, event.request));
};

// Somebody wants this version now. With another tab open on the one before, it goes on waiting.
const take = async (port) => {
  const open = await clients.matchAll({ type: "window", includeUncontrolled: true });
  const tabs = open.filter(({ url }) => url.startsWith(registration.scope)).length;
  port.postMessage(tabs);
  if (tabs < 2) skipWaiting();
};

onmessage = (event) => event.waitUntil(take(event.ports[0]));
