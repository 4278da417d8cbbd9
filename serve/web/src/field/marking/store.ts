// What this device keeps of its marks: entries until they are confirmed, and after that as a second copy;
// photos until all of them is confirmed. Where there is no database, a smaller store, and in the end none.
import { change, openDatabase, read } from "./database";

/** An entry as it is kept. */
export interface KeptEntry {
  id: string;
  pack: string;
  text: string;
  state: "waiting" | "confirmed" | "refused";
  /** of a confirmed one */
  number: number | null;
  /** of a refused one */
  why: string;
  /** in milliseconds since 1970, by this device's clock */
  made: number;
}

export interface KeptPhoto {
  hash: string;
  pack: string;
  type: string;
  bytes: ArrayBuffer;
}

export interface Store {
  /** "database" holds through all but the deletion of the page's data; "small" has no room for photos; "none" ends with the page */
  kind: "database" | "small" | "none";
  /** Keeps entries and photos, all or nothing; fails where there is no room. */
  keep(entries: KeptEntry[], photos: KeptPhoto[]): Promise<void>;
  /** The entries of a pack, oldest first. */
  entries(pack: string): Promise<KeptEntry[]>;
  photo(hash: string): Promise<KeptPhoto | null>;
  /** The hashes of the photos of a pack that are not confirmed. */
  photos(pack: string): Promise<string[]>;
  dropPhoto(hash: string): Promise<void>;
}

/** How long a confirmed entry stays as a second copy. */
const secondCopyMs = 30 * 86_400_000;

const oldestFirst = (all: KeptEntry[]): KeptEntry[] => all.sort((a, b) => a.made - b.made);

export async function openStore(): Promise<Store> {
  try {
    return await inDatabase(await openDatabase());
  } catch {
    return inStorage();
  }
}

async function inDatabase(db: IDBDatabase): Promise<Store> {
  await change(db, (table) => void table("entries").count()); // some private windows open one that cannot be written
  const kept = await read<KeptEntry[]>(db, "entries", (s) => s.getAll());
  const old = kept.filter((k) => k.state === "confirmed" && Math.abs(Date.now() - k.made) > secondCopyMs);
  if (old.length > 0) await change(db, (table) => old.forEach((k) => table("entries").delete(k.id)));
  return {
    kind: "database",
    keep: (entries, photos) => change(db, (table) => {
      for (const p of photos) table("photos").put(p);
      for (const e of entries) table("entries").put(e);
    }),
    entries: async (pack) => oldestFirst(await read<KeptEntry[]>(db, "entries", (s) => s.index("pack").getAll(pack))),
    photo: async (hash) => (await read<KeptPhoto | undefined>(db, "photos", (s) => s.get(hash))) ?? null,
    photos: async (pack) => (await read(db, "photos", (s) => s.index("pack").getAllKeys(pack))) as string[],
    dropPhoto: (hash) => change(db, (table) => void table("photos").delete(hash)),
  };
}

const prefix = "groundsheet mark ";

/** In the local storage, one item an entry; what it does not take is kept in memory, and the page says so. */
function inStorage(): Store {
  const all = new Map<string, KeptEntry>();
  const pictures = new Map<string, KeptPhoto>();
  let kind: Store["kind"] = "small";
  try {
    for (let i = 0; i < localStorage.length; i++) {
      const key = localStorage.key(i) ?? "";
      if (!key.startsWith(prefix)) continue;
      const e = JSON.parse(localStorage.getItem(key) ?? "null") as KeptEntry | null;
      if (e !== null) all.set(e.id, e);
    }
    localStorage.setItem(`${prefix}try`, "null");
    localStorage.removeItem(`${prefix}try`);
  } catch {
    kind = "none";
  }
  return {
    kind,
    async keep(entries, photos) {
      for (const e of entries) {
        if (kind === "small" && e.state !== "confirmed") localStorage.setItem(prefix + e.id, JSON.stringify(e));
        if (kind === "small" && e.state === "confirmed") localStorage.removeItem(prefix + e.id);
        all.set(e.id, e);
      }
      for (const p of photos) pictures.set(p.hash, p);
    },
    entries: async (pack) => oldestFirst([...all.values()].filter((e) => e.pack === pack)),
    photo: async (hash) => pictures.get(hash) ?? null,
    photos: async (pack) => [...pictures.values()].filter((p) => p.pack === pack).map((p) => p.hash),
    dropPhoto: async (hash) => void pictures.delete(hash),
  };
}
