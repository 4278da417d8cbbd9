// The service worker: caches what this device has loaded, so that the map works while the
// hotspot is out of reach. Documents come from the server first; tiles, whose URL names the
// version of their pack, come from the cache first. A cached document says since when it is
// cached. One version of a pack is cached: documents of two versions never mix.
// What the person asked to keep is a copy of its own (keeper.ts): it answers when nothing else does.
import { cacheKey, cacheKind, cacheNames, packOf, toEvict } from "./cachepolicy";
import { isKeptName, keepingHeader } from "./keeppolicy";
import { keptDocument, listWithKept, madeFromKept } from "./keptcopies";

interface LifecycleEvent extends Event {
  waitUntil(p: Promise<unknown>): void;
}
interface FetchRequestEvent extends LifecycleEvent {
  request: Request;
  respondWith(p: Promise<Response>): void;
}
const worker = self as unknown as {
  location: Location;
  clients: { claim(): Promise<void> };
  skipWaiting(): Promise<void>;
  addEventListener(name: string, f: (e: never) => void): void;
};

/** The timeout of a request for a document that is cached, in milliseconds. */
const timeoutMs = 5_000;
/** The limit of cached tiles, in bytes. */
const tileLimit = 64_000_000;

const seenHeader = "Groundsheet-Seen";
const sizeHeader = "Groundsheet-Bytes";
const versionHeader = "Groundsheet-Pack";

worker.addEventListener("install", (e: LifecycleEvent) => e.waitUntil(worker.skipWaiting()));
worker.addEventListener("activate", (e: LifecycleEvent) => e.waitUntil(Promise.all([
  worker.clients.claim(),
  caches.keys().then((names) => Promise.all(names.filter((n) => !isKeptName(n) && !Object.values(cacheNames).includes(n)).map((n) => caches.delete(n)))),
])));
worker.addEventListener("fetch", (e: FetchRequestEvent) => {
  if (e.request.method !== "GET" || e.request.headers.has(keepingHeader)) return;
  const sort = cacheKind(e.request.url, worker.location.origin);
  if (sort === "tile") e.respondWith(tile(e.request).catch(() => unanswered(e.request)));
  if (sort === "document") e.respondWith(documentOf(e.request).catch(() => Response.error()));
});
worker.addEventListener("message", (e: LifecycleEvent & { data: { keep?: string[]; forget?: boolean } }) => {
  caching = e.data.forget !== true;
  if (!caching) {
    tileBytes = null;
    e.waitUntil(caches.keys().then((names) => Promise.all(names.map((n) => caches.delete(n)))));
    return;
  }
  const urls = (e.data.keep ?? []).filter((u) => cacheKind(u, worker.location.origin) !== "");
  e.waitUntil(cacheAll(urls));
});

let caching = true; // false after signing out: responses still on their way are not cached

/** Fetches and caches what the page loaded before this worker ran, one at a time. */
async function cacheAll(urls: string[]): Promise<void> {
  for (const url of urls) {
    const request = new Request(url);
    await (cacheKind(url, worker.location.origin) === "tile" ? tile(request) : documentOf(request)).catch(() => undefined);
  }
}

/** The answer for a tile that is not cached, with the laptop gone: for a picture a status, since Firefox complains of any other failure. */
const unanswered = (request: Request) => (/\.mvt$/.test(new URL(request.url).pathname) ? Response.error() : new Response(null, { status: 504 }));

async function tile(request: Request): Promise<Response> {
  const cached = await caches.match(request); // also what is kept
  if (cached) return cachedResponse(cached, "");
  try {
    const answer = await fetch(request);
    const version = new URL(request.url).searchParams.get("v");
    if (answer.status === 200 && answer.headers.get(versionHeader) === version) {
      const copy = answer.clone();
      void caches.open(cacheNames.tiles).then((cache) => cacheTile(cache, request.url, copy)).catch(() => undefined);
    }
    return answer;
  } catch (e) {
    const made = await madeFromKept(request.url);
    if (made) return made;
    throw e;
  }
}

async function documentOf(request: Request): Promise<Response> {
  const cache = await caches.open(cacheNames.documents);
  const key = cacheKey(request.url, request.mode === "navigate");
  const cached = (await cache.match(key)) ?? (await keptDocument(key));
  try {
    const answer = await (cached ? within(timeoutMs, fetch(request)) : fetch(request));
    if (answer.status === 200 && !answer.redirected) await cacheDocument(cache, key, answer.clone()).catch(() => undefined);
    return answer;
  } catch (e) {
    const shown = new URL(key).pathname === "/packs.json" ? await listWithKept(cached) : cached;
    if (shown) return cachedResponse(shown, shown.headers.get(seenHeader) ?? "");
    throw e;
  }
}

/** Rejects a promise after a timeout: a request to a lost hotspot may hang. */
function within<T>(ms: number, work: Promise<T>): Promise<T> {
  return Promise.race([work, new Promise<T>((_, fail) => setTimeout(() => fail(new Error("too slow")), ms))]);
}

/** A cached response, with the time of caching unless `since` is "". */
function cachedResponse(cached: Response, since: string): Response {
  const headers = new Headers(cached.headers);
  headers.delete(sizeHeader);
  if (since === "") headers.delete(seenHeader);
  return new Response(cached.body, { status: cached.status, headers });
}

async function stamped(answer: Response): Promise<{ copy: Response; bytes: number }> {
  const body = await answer.blob();
  const headers = new Headers(answer.headers);
  headers.delete("Content-Encoding"); // the cached body is decoded
  headers.set(seenHeader, new Date().toISOString());
  headers.set(sizeHeader, String(body.size));
  return { copy: new Response(body, { status: 200, headers }), bytes: body.size };
}

const versions = new Map<string, string>(); // pack → the version that is cached

async function cacheDocument(cache: Cache, key: string, answer: Response): Promise<void> {
  const version = answer.headers.get(versionHeader) ?? "";
  const pack = packOf(key);
  if (pack !== "" && version !== "" && versions.get(pack) !== version) {
    versions.set(pack, version);
    await dropOthers(pack, version);
  }
  const { copy } = await stamped(answer);
  if (caching) await cache.put(key, copy);
}

/** Deletes other versions of a pack from the caches. */
async function dropOthers(pack: string, version: string): Promise<void> {
  for (const name of Object.values(cacheNames)) {
    const cache = await caches.open(name);
    for (const r of await cache.keys()) {
      if (packOf(r.url) !== pack) continue;
      const cached = await cache.match(r);
      if (cached?.headers.get(versionHeader) !== version) await cache.delete(r);
    }
  }
  tileBytes = null;
}

let tileBytes: Promise<number> | null = null; // bytes of cached tiles, counted once

async function count(cache: Cache): Promise<number> {
  return (await cache.matchAll()).reduce((sum, r) => sum + sizeOf(r), 0);
}

const sizeOf = (r: Response) => Number(r.headers.get(sizeHeader)) || 0;

async function cacheTile(cache: Cache, url: string, answer: Response): Promise<void> {
  const { copy, bytes } = await stamped(answer);
  if (!caching) return;
  tileBytes ??= count(cache);
  await cache.put(url, copy);
  const now = (await tileBytes) + bytes;
  tileBytes = Promise.resolve(now);
  if (now > tileLimit) await makeRoom(cache);
}

// Evicts half, oldest first, so that this is rare.
async function makeRoom(cache: Cache): Promise<void> {
  const all = await Promise.all((await cache.keys()).map(async (r) => {
    const cached = await cache.match(r);
    return { url: r.url, seen: cached?.headers.get(seenHeader) ?? "", bytes: cached ? sizeOf(cached) : 0 };
  }));
  for (const url of toEvict(all, tileLimit / 2)) await cache.delete(url);
  tileBytes = null;
}
