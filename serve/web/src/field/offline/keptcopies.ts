// The copies of packs that this device was asked to keep, as the service worker answers from them.
import type { PackEntry } from "../../shared/lib/api";
import { cacheNames, packOf } from "./cachepolicy";
import { ancestors, copyToShow, isCopyOf, isKeptName, keptName, type KeepList, type KeptRecord, listPath, packIn, recordPath, withKept } from "./keeppolicy";
import { type KeptFeature, nearOf } from "./nearkept";

const seenHeader = "Groundsheet-Seen";
const versionHeader = "Groundsheet-Pack";
const enlargedHeader = "Groundsheet-Enlarged-From";

const json = (value: unknown, headers: Record<string, string>): Response =>
  new Response(JSON.stringify(value), { status: 200, headers: { "Content-Type": "application/json", ...headers } });

async function recordIn(name: string, pack: string): Promise<KeptRecord | null> {
  const found = await (await caches.open(name)).match(recordPath(pack));
  return found ? ((await found.json()) as KeptRecord) : null;
}

/** The records of all copies of a pack; of all packs where none is named. */
export async function copiesOf(pack: string): Promise<KeptRecord[]> {
  const all: KeptRecord[] = [];
  for (const name of (await caches.keys()).filter((n) => (pack === "" ? isKeptName(n) : isCopyOf(n, pack)))) {
    const record = await recordIn(name, packIn(name));
    if (record) all.push(record);
  }
  return all;
}

/** A document of a pack from its copy; undefined where there is none, or another version was seen since. */
export async function keptDocument(url: string): Promise<Response | undefined> {
  const pack = packOf(url);
  const copies = pack === "" ? [] : (await caches.keys()).filter((n) => isCopyOf(n, pack));
  if (copies.length === 0) return undefined;
  const about = await (await caches.open(cacheNames.documents)).match(`/packs/${pack}/about.json`);
  const version = copyToShow(await copiesOf(pack), about?.headers.get(versionHeader) ?? "");
  return version === "" ? undefined : (await caches.open(keptName(pack, version))).match(url);
}

/** The list of packs, as it was seen last, with the packs that are kept. */
export async function listWithKept(cached: Response | undefined): Promise<Response | undefined> {
  const kept = await copiesOf("");
  if (kept.length === 0) return cached;
  const listed = cached ? ((await cached.json()) as { packs: PackEntry[] }).packs : [];
  const seen = cached?.headers.get(seenHeader) ?? kept.map((k) => k.finished || k.began).sort().pop() ?? "";
  return json({ packs: withKept(listed, kept.map((k) => k.entry)) }, { [seenHeader]: seen });
}

/** What a copy can say of an address with a version in it that it does not hold: a tile enlarged from one above it, or features near a place. */
export async function madeFromKept(url: string): Promise<Response | undefined> {
  const u = new URL(url);
  const name = keptName(packOf(url), u.searchParams.get("v") ?? "");
  if (!(await caches.keys()).includes(name)) return undefined;
  const copy = await caches.open(name);
  return u.searchParams.has("near") ? near(copy, u) : enlarged(copy, u);
}

async function enlarged(copy: Cache, u: URL): Promise<Response | undefined> {
  if (typeof OffscreenCanvas === "undefined" || u.pathname.includes("/overlays/")) return undefined; // the map enlarges what it has by itself
  for (const above of ancestors(u.pathname)) {
    const found = await copy.match(above.path + u.search);
    if (found?.status !== 200) continue;
    const image = await createImageBitmap(await found.blob());
    const side = image.width / above.scale;
    const canvas = new OffscreenCanvas(image.width, image.height);
    canvas.getContext("2d")?.drawImage(image, above.x * side, above.y * side, side, side, 0, 0, image.width, image.height);
    const headers = { [enlargedHeader]: found.headers.get(enlargedHeader) ?? above.tile, [versionHeader]: found.headers.get(versionHeader) ?? "" };
    return new Response(await canvas.convertToBlob(), { status: 200, headers });
  }
  return undefined;
}

const read = new Map<string, Promise<KeptFeature[]>>(); // features by the address of their document and version, while the worker runs

async function near(copy: Cache, u: URL): Promise<Response | undefined> {
  const list = (await (await copy.match(listPath(packOf(u.href))))?.json()) as KeepList | undefined;
  const part = list?.large?.find((p) => p.near.split("?")[0] === u.pathname);
  const whole = part && (await copy.match(part.whole));
  if (!part || !whole) return undefined;
  const key = `${part.whole} ${u.searchParams.get("v") ?? ""}`;
  const features = read.get(key) ?? whole.json().then((all: { features: KeptFeature[] }) => all.features);
  read.set(key, features);
  const [lon = 0, lat = 0] = (u.searchParams.get("near") ?? "").split(",").map(Number);
  const parts = part.parts ?? [];
  const found = nearOf(await features, { lon, lat, within: Number(u.searchParams.get("within")), parts });
  return json({ type: "FeatureCollection", numberMatched: found.count, numberReturned: found.features.length, features: found.features }, {});
}
