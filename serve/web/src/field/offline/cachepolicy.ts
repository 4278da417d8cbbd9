// The cache policy of the service worker, as pure functions.

/** The names of the caches. Increase their numbers when the way of caching changes. */
export const cacheNames = { documents: "groundsheet documents 1", tiles: "groundsheet tiles 1" };
/** The files of the page itself. */
export const pageFiles = ["/", "/index.html", "/guard.js", "/app.js", "/shared.js", "/marking.js", "/app.css", "/marking.css", "/icon.svg", "/packs.json"];

/** How a URL is cached: as a tile of a version, as a document, or "" for not at all. */
export function cacheKind(url: string, origin: string): "tile" | "document" | "" {
  const u = new URL(url);
  if (u.origin !== origin) return "";
  if (pageFiles.includes(u.pathname)) return "document";
  if (packOf(url) === "") return "";
  if (u.searchParams.has("find")) return ""; // a search may have ended before it had looked at all
  if (u.searchParams.has("v")) return "tile";
  return /\.(json|geojson)$/.test(u.pathname) ? "document" : "";
}

/** The key of a document. The page has one key whatever its query; other documents opened in a tab keep their own. */
export function cacheKey(url: string, navigation: boolean): string {
  const u = new URL(url);
  const page = (u.pathname === "/" || u.pathname === "/index.html") && !u.searchParams.has("f");
  return navigation && page ? new URL("/", u).href : url;
}

/** The pack of a URL, "" for none. */
export const packOf = (url: string): string => /^\/packs\/([^/]+)\/./.exec(new URL(url).pathname)?.[1] ?? "";

/** The URLs to evict, oldest first, so that at most `limit` bytes stay. */
export function toEvict(all: { url: string; seen: string; bytes: number }[], limit: number): string[] {
  let left = all.reduce((sum, t) => sum + t.bytes, 0);
  const gone: string[] = [];
  for (const t of [...all].sort((a, b) => (a.seen < b.seen ? -1 : a.seen > b.seen ? 1 : 0))) {
    if (left <= limit) break;
    gone.push(t.url);
    left -= t.bytes;
  }
  return gone;
}
