// What the worker keeps, and under which names. Plain decisions, apart from the browser.

/** The names of what is kept; a change of how it is kept counts them up. */
export const cacheNames = { documents: "groundsheet documents 1", tiles: "groundsheet tiles 1" };

/** The files of the page itself. */
const pageFiles = ["/", "/index.html", "/app.js", "/app.css", "/icon.svg", "/packs.json"];

/** How an address is kept: as a tile of a version, as a document, or "" not at all. */
export function cacheKind(url: string, origin: string): "tile" | "document" | "" {
  const u = new URL(url);
  if (u.origin !== origin) return "";
  if (pageFiles.includes(u.pathname)) return "document";
  if (packOf(url) === "") return "";
  if (u.searchParams.has("v")) return "tile";
  return /\.(json|geojson)$/.test(u.pathname) ? "document" : "";
}

/** The name under which a document is kept: the page is one, whatever it was opened with. Only the page itself: a document opened in a tab of its own must not stand for it. */
export function cacheKey(url: string, opened: boolean): string {
  const u = new URL(url);
  const page = (u.pathname === "/" || u.pathname === "/index.html") && !u.searchParams.has("f");
  return opened && page ? new URL("/", u).href : url;
}

/** The pack that an address belongs to, "" for none. */
export function packOf(url: string): string {
  return /^\/packs\/([^/]+)\/./.exec(new URL(url).pathname)?.[1] ?? "";
}

/** What has to go, the longest kept first, until no more than `most` bytes are left. */
export function toEvict(all: { url: string; seen: string; bytes: number }[], most: number): string[] {
  let left = all.reduce((sum, t) => sum + t.bytes, 0);
  const gone: string[] = [];
  for (const t of [...all].sort((a, b) => (a.seen < b.seen ? -1 : a.seen > b.seen ? 1 : 0))) {
    if (left <= most) break;
    gone.push(t.url);
    left -= t.bytes;
  }
  return gone;
}
