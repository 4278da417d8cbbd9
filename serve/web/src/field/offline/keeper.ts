// Keeps a whole pack on this device, or takes it off: each tile is proved by its hash before it
// counts. What is kept lies in a cache of its own, which the worker never evicts.
import type { About, PackEntry } from "../../shared/lib/api";
import { request } from "../../shared/lib/http";
import { pageFiles } from "./cachepolicy";
import { deepestVector, isFull, isCopyOf, keepingHeader, keptName, type KeepList, type KeptRecord, listPath, missingOf, type Proof, proofOf, recordPath, type Wanted, wantedOf } from "./keeppolicy";

/** How many things are asked for at once. */
const atOnce = 4;
/** How long one of them may take, in milliseconds, and how often it is tried. */
const timeoutMs = 30_000;
const tries = 4;
/** How often the record of a copy that grows is written, in milliseconds. */
const notedEveryMs = 2_000;

/** Why keeping ended before the copy was complete. */
export type Ended = "" | "stopped" | "full" | "exchanged" | "damaged" | "away" | "refused";

const sizeHeader = "Groundsheet-Bytes";

class Stop extends Error {
  constructor(readonly why: Exclude<Ended, "">) {
    super(why);
  }
}

export interface Copy {
  record: KeptRecord;
  proof: Proof;
}

/** The list of what to keep of a pack, from the laptop; from a copy while the laptop is away. */
export async function fetchList(pack: string): Promise<KeepList | null> {
  try {
    const answer = await request(listPath(pack), { headers: { [keepingHeader]: "1" }, cache: "no-store" });
    if (answer.ok) return (await answer.json()) as KeepList;
  } catch {
    // the laptop is away
  }
  return null;
}

/** The copies of a pack, each held against its list. */
export async function readCopies(pack: string): Promise<Copy[]> {
  const all: Copy[] = [];
  for (const name of (await caches.keys()).filter((n) => isCopyOf(n, pack))) {
    const cache = await caches.open(name);
    const [record, list] = await Promise.all([cache.match(recordPath(pack)), cache.match(listPath(pack))]);
    if (!record || !list) continue;
    const proof = proofOf(wantedOf((await list.json()) as KeepList), await pathsIn(cache));
    all.push({ record: (await record.json()) as KeptRecord, proof });
  }
  return all;
}

async function pathsIn(cache: Cache): Promise<Set<string>> {
  return new Set((await cache.keys()).map((r) => new URL(r.url).pathname + new URL(r.url).search));
}

async function sizeIn(cache: Cache): Promise<number> {
  let bytes = 0;
  for (const key of await cache.keys()) bytes += Number((await cache.match(key))?.headers.get(sizeHeader)) || 0;
  return bytes;
}

/** Takes all copies of a pack off this device, or all but one version. */
export async function removeCopies(pack: string, but = ""): Promise<void> {
  for (const name of await caches.keys()) if (isCopyOf(name, pack) && name !== keptName(pack, but)) await caches.delete(name);
}

/** Keeps what is missing of a pack; `told` hears of progress. Resolves to why it ended, "" when all is kept. */
export async function keepPack(
  entry: PackEntry, about: About, list: KeepList, signal: AbortSignal, told: (kept: number, all: number) => void,
): Promise<Ended> {
  const cache = await caches.open(keptName(entry.id, list.version));
  const old = (await (await cache.match(recordPath(entry.id)))?.json()) as KeptRecord | undefined;
  const record: KeptRecord = old ?? { entry, version: list.version, seal: about.seal ?? "", began: new Date().toISOString(), finished: "", bytes: 0 };
  const note = () => put(cache, recordPath(entry.id), JSON.stringify(record), { "Content-Type": "application/json" }, 200);
  try {
    if (old) record.bytes = await sizeIn(cache); // what ended early had no room to note it, perhaps
    await note();
    await put(cache, listPath(entry.id), JSON.stringify(list), { "Content-Type": "application/json" }, 200);
    const wanted = wantedOf(list);
    const queue = missingOf(wanted, await pathsIn(cache));
    let done = wanted.length - queue.length;
    let noted = Date.now();
    const worker = async () => {
      for (let w = queue.shift(); w !== undefined; w = queue.shift()) {
        if (signal.aborted) throw new Stop("stopped");
        const bytes = await keepOne(cache, w, list, signal);
        record.bytes += bytes; // not in one: the others add to it meanwhile
        told(++done, wanted.length);
        if (Date.now() - noted > notedEveryMs) {
          noted = Date.now();
          await note();
        }
      }
    };
    const ends = await Promise.allSettled(Array.from({ length: atOnce }, () => worker().catch((e: unknown) => {
      queue.length = 0; // the others end with what they do
      throw e;
    })));
    const failed = ends.find((e) => e.status === "rejected");
    if (failed) throw failed.reason;
    if (missingOf(wanted, await pathsIn(cache)).length > 0) throw new Stop("refused"); // the browser dropped some meanwhile
    await keepPage();
    record.finished = new Date().toISOString();
    await note();
    return "";
  } catch (e) {
    await note().catch(() => undefined);
    return signal.aborted ? "stopped" : e instanceof Stop ? e.why : isFull(e) ? "full" : "away";
  }
}

/** The page itself is cached by the worker when it is loaded; here what it lacks is loaded again. */
async function keepPage(): Promise<void> {
  for (const path of pageFiles) {
    if (!(await caches.match(path))) await request(path);
  }
}

async function put(cache: Cache, path: string, body: BodyInit, headers: HeadersInit, status: number): Promise<void> {
  const all = new Headers(headers);
  all.set("Groundsheet-Seen", new Date().toISOString());
  await cache.put(path, new Response(status === 204 ? null : body, { status, headers: all }));
}

/** Fetches, proves and keeps one thing; resolves to its size in bytes. */
async function keepOne(cache: Cache, { path, mark }: Wanted, list: KeepList, signal: AbortSignal): Promise<number> {
  for (let left = tries; ; left--) {
    const answer = await ask(path, signal);
    if (answer.status === 410 || (answer.ok && answer.headers.get("Groundsheet-Pack") !== list.version)) throw new Stop("exchanged");
    if (answer.status === 503 && left > 1) {
      await new Promise((go) => setTimeout(go, 1000 * (Number(answer.headers.get("Retry-After")) || 1)));
      continue;
    }
    if (answer.status !== 200 && answer.status !== 204) throw new Stop("refused");
    let body = await answer.arrayBuffer();
    if (mark !== "" && !(await sha256(body)).startsWith(mark)) {
      if (left > 1) continue;
      throw new Stop("damaged");
    }
    if (list.large?.some((p) => p.tilejson === path)) body = shallower(body);
    const headers = new Headers(answer.headers);
    for (const name of ["Content-Encoding", "Content-Length", "Vary"]) headers.delete(name); // the body is decoded
    headers.set(sizeHeader, String(body.byteLength));
    await put(cache, path, body, headers, answer.status);
    return body.byteLength;
  }
}

async function ask(path: string, signal: AbortSignal): Promise<Response> {
  for (let left = tries; ; left--) {
    try {
      return await request(path, { headers: { [keepingHeader]: "1" }, cache: "no-store" }, timeoutMs);
    } catch (e) {
      if (left === 1 || signal.aborted) throw e;
      await new Promise((go) => setTimeout(go, 1000));
    }
  }
}

/** A TileJSON with no deeper zoom than is kept. */
function shallower(body: ArrayBuffer): ArrayBuffer {
  const t = JSON.parse(new TextDecoder().decode(body)) as { maxzoom?: number };
  const bytes = new TextEncoder().encode(JSON.stringify({ ...t, maxzoom: Math.min(t.maxzoom ?? deepestVector, deepestVector) }));
  return bytes.buffer as ArrayBuffer;
}

async function sha256(body: ArrayBuffer): Promise<string> {
  const sum = new Uint8Array(await crypto.subtle.digest("SHA-256", body));
  return [...sum].map((b) => b.toString(16).padStart(2, "0")).join("");
}
