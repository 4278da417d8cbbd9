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
  /**
   * "database" holds through all but the deletion of the page's data; "small" has no room for photos; "none" ends with the page;
   * "held" is a small one while the browser does not open the database
   */
  kind: "database" | "small" | "none" | "held";
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

/** WebKit may hold the database of a page that was reloaded while it wrote, until the page is opened anew. */
const longestOpening = 8_000;

export async function openStore(): Promise<Store> {
  const held = new Promise<"held">((done) => { setTimeout(done, longestOpening, "held"); });
  try {
    const opened = await Promise.race([openDatabase().then(inDatabase), held]);
    return opened === "held" ? inStorage("held") : opened;
  } catch {
    return inStorage("small");
  }
}

async function inDatabase(db: IDBDatabase): Promise<Store> {
  await change(db, (table) => void table("entries").count()); // some private windows open one that cannot be written
  const kept = await read<KeptEntry[]>(db, "entries", (s) => s.getAll());
  const old = kept.filter((k) => k.state === "confirmed" && Math.abs(Date.now() - k.made) > secondCopyMs);
  if (old.length > 0) await change(db, (table) => old.forEach((k) => table("entries").delete(k.id)));
  const apart = storedEntries(); // kept while the database was held
  if (apart.length > 0) {
    await change(db, (table) => apart.forEach((k) => table("entries").put(k)));
    for (const k of apart) localStorage.removeItem(prefix + k.id);
  }
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

function storedEntries(): KeptEntry[] {
  try {
    return Object.keys(localStorage).filter((key) => key.startsWith(prefix)).flatMap((key) => {
      const e = JSON.parse(localStorage.getItem(key) ?? "null") as KeptEntry | null;
      return e === null ? [] : [e];
    });
  } catch {
    return [];
  }
}

/** In the local storage, one item an entry; what it does not take is kept in memory, and the page says so. */
function inStorage(kind: "small" | "held" | "none"): Store {
  const all = new Map(storedEntries().map((e) => [e.id, e]));
  const pictures = new Map<string, KeptPhoto>();
  try {
    localStorage.setItem(`${prefix}try`, "null");
    localStorage.removeItem(`${prefix}try`);
  } catch {
    kind = "none";
  }
  return {
    kind,
    async keep(entries, photos) {
      for (const e of entries) {
        if (kind !== "none" && e.state !== "confirmed") localStorage.setItem(prefix + e.id, JSON.stringify(e));
        if (kind !== "none" && e.state === "confirmed") localStorage.removeItem(prefix + e.id);
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
