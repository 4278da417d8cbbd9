// The queue of what is only on this phone. It empties itself whenever the laptop is in reach, and nothing leaves it
// without a receipt.
import type { Entry } from "./entry";
import { batchOf, type Receipt, SendError, sendEntries, sendPhoto, type Trouble } from "./send";
import type { KeptEntry, KeptPhoto, Store } from "./store";

export interface Queue {
  /** Keeps entries and photos on this phone, then sends them; fails where this phone has no room, and then nothing is kept. */
  add(entries: Entry[], photos: KeptPhoto[]): Promise<void>;
  /** Sends now what waits. */
  kick(): void;
  /** Takes in entries that came back in from a file; those that are here already stay as they are. Gives how many are new. */
  takeIn(texts: { id: string; text: string; made: number }[], photos: KeptPhoto[]): Promise<number>;
  /** Sends again what the laptop's book has lost: this phone has a second copy of it. */
  resend(has: (entry: string) => boolean): void;
  /** What is not confirmed: entries that wait or were refused, and photos. */
  waiting(): { entries: KeptEntry[]; photos: string[] };
  /** All entries of this phone, also confirmed ones. */
  own(): KeptEntry[];
  /** Why nothing goes through; "" where it does. */
  trouble(): { why: Trouble | ""; words: string };
}

interface Parts {
  pack: string;
  book: string;
  store: Store;
  /** Runs when anything changes. */
  changed(): void;
}

/** The pauses between attempts while the laptop does not answer, in milliseconds. */
const pauses = [1_500, 3_000, 6_000, 12_000, 30_000];

export async function makeQueue({ pack, book, store, changed }: Parts): Promise<Queue> {
  const all = new Map((await store.entries(pack)).map((e) => [e.id, e]));
  const pictures = new Set(await store.photos(pack));
  let trouble: { why: Trouble | ""; words: string } = { why: "", words: "" };
  let running = false;
  let again = false;
  let failures = 0;
  let timer: ReturnType<typeof setTimeout> | undefined;
  const waiting = () => [...all.values()].filter((e) => e.state === "waiting");

  const settle = async (e: KeptEntry, receipt: Receipt) => {
    const next: KeptEntry = receipt.refused === undefined
      ? { ...e, state: "confirmed", number: receipt.number ?? null }
      : { ...e, state: "refused", why: receipt.refused };
    all.set(e.id, next);
    await store.keep([next], []).catch(() => undefined); // it is sent again at the next start: twice makes one
  };
  const sendAll = async () => {
    for (let batch = batchOf(waiting()); batch.length > 0; batch = batchOf(waiting())) {
      const receipts = new Map((await sendEntries(book, batch)).map((r) => [r.id, r]));
      if (!batch.some((e) => receipts.has(e.id))) throw new SendError("away");
      for (const e of batch) {
        const receipt = receipts.get(e.id);
        if (receipt !== undefined) await settle(e, receipt);
      }
      changed();
    }
    let bad: SendError | null = null;
    for (const hash of [...pictures]) {
      const photo = await store.photo(hash);
      try {
        if (photo !== null) await sendPhoto(book, photo);
      } catch (e) {
        if (!(e instanceof SendError) || e.trouble !== "refused") throw e;
        bad = e; // it stays here, and keeps none of the others waiting
        continue;
      }
      await store.dropPhoto(hash);
      pictures.delete(hash);
      changed();
      if (waiting().length > 0) return sendAll();
    }
    if (bad !== null) throw bad;
  };
  const kick = () => {
    clearTimeout(timer);
    if (running) {
      again = true;
      return;
    }
    if (waiting().length + pictures.size === 0) return;
    running = true;
    void sendAll().then(
      () => {
        failures = 0;
        trouble = { why: "", words: "" };
      },
      (e: unknown) => {
        trouble = e instanceof SendError ? { why: e.trouble, words: e.words } : { why: "refused", words: String(e) };
        timer = setTimeout(kick, pauses[Math.min(failures++, pauses.length - 1)]);
      },
    ).then(() => {
      running = false;
      changed();
      if (again) {
        again = false;
        kick();
      }
    });
  };
  return {
    kick,
    async add(entries, photos) {
      const made = Date.now();
      const kept = entries.map((e, i): KeptEntry => ({ id: e.id, pack, text: JSON.stringify(e), state: "waiting", number: null, why: "", made: made + i / 1000 }));
      await store.keep(kept, photos);
      for (const e of kept) all.set(e.id, e);
      for (const p of photos) pictures.add(p.hash);
      changed();
      kick();
    },
    async takeIn(texts, photos) {
      const fresh = texts.filter((t) => !all.has(t.id)).map((t): KeptEntry => ({ ...t, pack, state: "waiting", number: null, why: "" }));
      await store.keep(fresh, photos);
      for (const e of fresh) all.set(e.id, e);
      for (const p of photos) pictures.add(p.hash);
      changed();
      kick();
      return fresh.length;
    },
    resend(has) {
      const lost = [...all.values()].filter((e) => e.state === "confirmed" && !has(e.id));
      for (const e of lost) all.set(e.id, { ...e, state: "waiting", number: null });
      if (lost.length === 0) return;
      changed();
      kick();
    },
    waiting: () => ({ entries: [...all.values()].filter((e) => e.state !== "confirmed"), photos: [...pictures] }),
    own: () => [...all.values()],
    trouble: () => trouble,
  };
}
