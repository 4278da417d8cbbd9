// The database of marks on this device: what it holds stays until the laptop has confirmed it.

const tables = ["entries", "photos"] as const;
type Table = (typeof tables)[number];

const name = "groundsheet marks";

/** Opens the database; fails where the browser has none, as in some private windows. */
export function openDatabase(): Promise<IDBDatabase> {
  return new Promise((done, fail) => {
    if (!("indexedDB" in window)) return fail(new Error("no database"));
    const asked = indexedDB.open(name, 1);
    asked.onupgradeneeded = () => {
      asked.result.createObjectStore("entries", { keyPath: "id" }).createIndex("pack", "pack");
      asked.result.createObjectStore("photos", { keyPath: "hash" }).createIndex("pack", "pack");
    };
    asked.onsuccess = () => {
      asked.result.onversionchange = () => asked.result.close();
      done(asked.result);
    };
    asked.onerror = () => fail(asked.error ?? new Error("no database"));
    asked.onblocked = () => fail(new Error("blocked"));
  });
}

/** Changes the database, all or nothing; resolves when it is on the medium, where the browser can promise that. */
export function change(db: IDBDatabase, work: (table: (name: Table) => IDBObjectStore) => void): Promise<void> {
  return new Promise((done, fail) => {
    // Browsers that do not know the option pass it over.
    const t = db.transaction([...tables], "readwrite", { durability: "strict" } as IDBTransactionOptions);
    t.oncomplete = () => done();
    t.onabort = () => fail(t.error ?? new Error("aborted"));
    t.onerror = () => fail(t.error ?? new Error("failed"));
    try {
      work((n) => t.objectStore(n));
    } catch (e) {
      t.abort();
      fail(e);
    }
  });
}

/** What a request for reading gives. */
export function read<T>(db: IDBDatabase, table: Table, ask: (store: IDBObjectStore) => IDBRequest<T>): Promise<T> {
  return new Promise((done, fail) => {
    const asked = ask(db.transaction(table, "readonly").objectStore(table));
    asked.onsuccess = () => done(asked.result);
    asked.onerror = () => fail(asked.error ?? new Error("failed"));
  });
}
