// Sends what is kept to the laptop: entries first, they are small, then photos in pieces that go on where they stopped.
import { request } from "../../shared/lib/http";
import type { KeptEntry, KeptPhoto } from "./store";

/** How the laptop answered an entry. */
export interface Receipt {
  id: string;
  number?: number;
  refused?: string;
}

/** Why sending did not go through. */
export type Trouble = "away" | "join" | "look" | "full" | "refused";

export class SendError extends Error {
  constructor(readonly trouble: Trouble, readonly words = "") {
    super(`${trouble} ${words}`);
  }
}

/** How many entries go in one request, and how many characters of them: under a megabyte in any script. */
const most = { entries: 100, characters: 250_000 };
/** A piece of a photo, in bytes. */
export const pieceBytes = 256 * 1024;
const timeoutMs = 20_000;

/** As many of the first entries as go in one request. */
export function batchOf(all: KeptEntry[]): KeptEntry[] {
  let room = most.characters;
  let n = 0;
  while (n < Math.min(all.length, most.entries) && (n === 0 || room >= (all[n]?.text.length ?? 0))) room -= all[n++]?.text.length ?? 0;
  return all.slice(0, n);
}

async function ask(url: string, init: RequestInit): Promise<Response> {
  let answer: Response;
  try {
    answer = await request(url, { cache: "no-store", ...init }, timeoutMs);
  } catch {
    throw new SendError("away");
  }
  if (answer.ok) return answer;
  const words = (await answer.text().catch(() => "")).trim().slice(0, 300);
  switch (answer.status) {
    case 401: throw new SendError("join", words);
    case 403: throw new SendError("look", words);
    case 503: throw new SendError(words === "" ? "away" : "refused", words); // it says what keeps it from taking any now
    case 507: throw new SendError("full", words);
    default: throw new SendError(answer.status >= 500 || answer.status === 429 ? "away" : "refused", words);
  }
}

const json = async <T>(answer: Response): Promise<T> => (await answer.json().catch(() => { throw new SendError("away"); })) as T;

export async function sendEntries(book: string, entries: KeptEntry[]): Promise<Receipt[]> {
  const body = JSON.stringify({ entries: entries.map((e) => e.text) });
  const { receipts } = await json<{ receipts: Receipt[] }>(await ask(`${book}/entries`, { method: "POST", body, headers: { "Content-Type": "application/json" } }));
  return receipts;
}

/** Sends what the laptop has not got of a photo; resolves when it has all of it. */
export async function sendPhoto(book: string, photo: KeptPhoto): Promise<void> {
  const url = `${book}/photos/${photo.hash}`;
  const all = photo.bytes.byteLength;
  let { have, done } = await json<{ have: number; done: boolean }>(await ask(`${url}/have`, {}));
  while (!done) {
    const to = Math.min(all, have + pieceBytes);
    const query = new URLSearchParams({ at: String(have), of: String(all), type: photo.type });
    const answer = await json<{ have: number; done: boolean }>(await ask(`${url}?${query}`, {
      method: "PUT", body: photo.bytes.slice(have, to), headers: { "Content-Type": "application/octet-stream" },
    }));
    if (!answer.done && answer.have <= have) throw new SendError("away");
    ({ have, done } = answer);
  }
}
