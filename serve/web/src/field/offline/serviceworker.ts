// The worker beside the page: keeps what this device has seen, so that a map
// goes on when the hotspot drops. The laptop is always asked first; only tiles,
// whose address names the version of their pack, are taken from what was kept
// while it answers. What is handed out in its place says since when it is kept.
// Only one version of a pack is kept: documents of two are never mixed.
import { cacheKey, cacheKind, cacheNames, packOf, toEvict } from "./cachepolicy";

interface Waiting extends Event {
  waitUntil(p: Promise<unknown>): void;
}
interface Asked extends Waiting {
  request: Request;
  respondWith(p: Promise<Response>): void;
}
const worker = self as unknown as {
  location: Location;
  clients: { claim(): Promise<void> };
  skipWaiting(): Promise<void>;
  addEventListener(name: string, f: (e: never) => void): void;
};

/** How long the laptop is waited for where something is kept, in milliseconds. */
const patienceMs = 5_000;

/** How much is kept of tiles, in bytes. */
const most = 64_000_000;

const seenHeader = "Groundsheet-Seen";
const sizeHeader = "Groundsheet-Bytes";
const versionHeader = "Groundsheet-Pack";

worker.addEventListener("install", (e: Waiting) => e.waitUntil(worker.skipWaiting()));
worker.addEventListener("activate", (e: Waiting) => e.waitUntil(Promise.all([
  worker.clients.claim(),
  caches.keys().then((names) => Promise.all(names.filter((n) => !Object.values(cacheNames).includes(n)).map((n) => caches.delete(n)))),
])));
worker.addEventListener("fetch", (e: Asked) => {
  if (e.request.method !== "GET") return;
  const sort = cacheKind(e.request.url, worker.location.origin);
  if (sort === "tile") e.respondWith(tile(e.request));
  if (sort === "document") e.respondWith(documentOf(e.request));
});
worker.addEventListener("message", (e: Waiting & { data: { keep?: string[]; forget?: boolean } }) => {
  keeping = e.data.forget !== true;
  if (!keeping) {
    held = null;
    e.waitUntil(caches.keys().then((names) => Promise.all(names.map((n) => caches.delete(n)))));
    return;
  }
  const urls = (e.data.keep ?? []).filter((u) => cacheKind(u, worker.location.origin) !== "");
  e.waitUntil(keepAll(urls));
});

let keeping = true; // until somebody leaves: what is still on its way then is not kept any more

/** Fetches and keeps what the page loaded before this worker ran, one after another. */
async function keepAll(urls: string[]): Promise<void> {
  for (const url of urls) {
    const request = new Request(url);
    await (cacheKind(url, worker.location.origin) === "tile" ? tile(request) : documentOf(request)).catch(() => undefined);
  }
}

async function tile(request: Request): Promise<Response> {
  const cache = await caches.open(cacheNames.tiles);
  const kept = await cache.match(request);
  if (kept) return told(kept, "");
  const answer = await fetch(request);
  const version = new URL(request.url).searchParams.get("v");
  if (answer.status === 200 && answer.headers.get(versionHeader) === version) {
    void keepTile(cache, request.url, answer.clone()).catch(() => undefined);
  }
  return answer;
}

async function documentOf(request: Request): Promise<Response> {
  const cache = await caches.open(cacheNames.documents);
  const key = cacheKey(request.url, request.mode === "navigate");
  const kept = await cache.match(key);
  try {
    const answer = await (kept ? within(patienceMs, fetch(request)) : fetch(request));
    if (answer.status === 200 && !answer.redirected) await keepDocument(cache, key, answer.clone()).catch(() => undefined);
    return answer;
  } catch (e) {
    if (kept) return told(kept, kept.headers.get(seenHeader) ?? "");
    throw e;
  }
}

/** A promise that fails when it takes too long: a hotspot out of reach may not say so. */
function within<T>(ms: number, work: Promise<T>): Promise<T> {
  return Promise.race([work, new Promise<T>((_, fail) => setTimeout(() => fail(new Error("too slow")), ms))]);
}

/** A kept answer as it was, with or without the time since which it is kept. */
function told(kept: Response, since: string): Response {
  const headers = new Headers(kept.headers);
  headers.delete(sizeHeader);
  if (since === "") headers.delete(seenHeader);
  return new Response(kept.body, { status: 200, headers });
}

async function stamped(answer: Response): Promise<{ copy: Response; bytes: number }> {
  const body = await answer.blob();
  const headers = new Headers(answer.headers);
  headers.delete("Content-Encoding"); // what is kept is unpacked
  headers.set(seenHeader, new Date().toISOString());
  headers.set(sizeHeader, String(body.size));
  return { copy: new Response(body, { status: 200, headers }), bytes: body.size };
}

const versions = new Map<string, string>(); // pack → the version that is kept

async function keepDocument(cache: Cache, key: string, answer: Response): Promise<void> {
  const version = answer.headers.get(versionHeader) ?? "";
  const pack = packOf(key);
  if (pack !== "" && version !== "" && versions.get(pack) !== version) {
    versions.set(pack, version);
    await dropOthers(pack, version);
  }
  const { copy } = await stamped(answer);
  if (keeping) await cache.put(key, copy);
}

/** Takes out all that is kept of other versions of a pack. */
async function dropOthers(pack: string, version: string): Promise<void> {
  for (const name of Object.values(cacheNames)) {
    const cache = await caches.open(name);
    for (const r of await cache.keys()) {
      if (packOf(r.url) !== pack) continue;
      const kept = await cache.match(r);
      if (kept?.headers.get(versionHeader) !== version) await cache.delete(r);
    }
  }
  held = null;
}

let held: Promise<number> | null = null; // bytes of tiles, counted once

async function count(cache: Cache): Promise<number> {
  return (await cache.matchAll()).reduce((sum, r) => sum + sizeOf(r), 0);
}

const sizeOf = (r: Response) => Number(r.headers.get(sizeHeader)) || 0;

async function keepTile(cache: Cache, url: string, answer: Response): Promise<void> {
  const { copy, bytes } = await stamped(answer);
  if (!keeping) return;
  held ??= count(cache);
  await cache.put(url, copy);
  const now = (await held) + bytes;
  held = Promise.resolve(now);
  if (now > most) await makeRoom(cache);
}

// Half of it goes, the longest kept first, so that this is seldom.
async function makeRoom(cache: Cache): Promise<void> {
  const all = await Promise.all((await cache.keys()).map(async (r) => {
    const kept = await cache.match(r);
    return { url: r.url, seen: kept?.headers.get(seenHeader) ?? "", bytes: kept ? sizeOf(kept) : 0 };
  }));
  for (const url of toEvict(all, most / 2)) await cache.delete(url);
  held = null;
}
