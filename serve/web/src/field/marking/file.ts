// What is only on this phone, as a file: to be kept elsewhere, and taken in again by any phone of the job.
import { UserError } from "../../shared/lib/http";
import { say } from "../../shared/lib/words";
import { parseEntry } from "./entry";
import { hashOf } from "./photo";
import type { KeptEntry, KeptPhoto } from "./store";

/** The form of such a file. */
interface MarksFile {
  groundsheet_marks: 1;
  pack: string;
  saved: string;
  /** the texts of entries, as they are sent */
  entries: string[];
  /** photos in base64 */
  photos: { hash: string; type: string; data: string }[];
}

/** The text of a file of entries and photos. */
export function fileText(pack: string, entries: KeptEntry[], photos: KeptPhoto[]): string {
  const file: MarksFile = {
    groundsheet_marks: 1, pack, saved: new Date().toISOString(), entries: entries.map((e) => e.text),
    photos: photos.map((p) => ({ hash: p.hash, type: p.type, data: base64(p.bytes) })),
  };
  return JSON.stringify(file, null, 1);
}

/** Reads such a file; fails with a sentence. Photos whose hash is not theirs are left out. */
export function readFile(text: string, pack: string): { entries: { id: string; text: string; made: number }[]; photos: KeptPhoto[] } {
  let file: Partial<MarksFile> | null = null;
  try {
    file = JSON.parse(text) as Partial<MarksFile>;
  } catch {
    // told below
  }
  if (file?.groundsheet_marks !== 1 || !Array.isArray(file.entries)) throw new UserError(say("marking.file_strange"));
  if (file.pack !== pack) throw new UserError(say("marking.file_other", { pack: String(file.pack) }));
  const entries = file.entries.flatMap((t) => {
    const entry = typeof t === "string" ? parseEntry(t) : null;
    return entry === null ? [] : [{ id: entry.id, text: t, made: Date.parse(entry.clock) || Date.now() }];
  });
  const photos = (Array.isArray(file.photos) ? file.photos : []).flatMap((p): KeptPhoto[] => {
    const bytes = bytesOf(String(p.data));
    return bytes !== null && hashOf(bytes) === p.hash ? [{ hash: p.hash, pack, type: "image/jpeg", bytes }] : [];
  });
  return { entries, photos };
}

function base64(bytes: ArrayBuffer): string {
  let text = "";
  const all = new Uint8Array(bytes);
  for (let i = 0; i < all.length; i += 8192) text += String.fromCharCode(...all.subarray(i, i + 8192));
  return btoa(text);
}

function bytesOf(text: string): ArrayBuffer | null {
  try {
    return Uint8Array.from(atob(text), (c) => c.charCodeAt(0)).buffer;
  } catch {
    return null;
  }
}

/** Has the browser save a text as a file. */
export function saveFile(name: string, text: string): void {
  const url = URL.createObjectURL(new Blob([text], { type: "application/json" }));
  const link = Object.assign(document.createElement("a"), { href: url, download: name });
  document.body.append(link);
  link.click();
  link.remove();
  setTimeout(() => URL.revokeObjectURL(url), 60_000);
}
