// A photo for a mark: made smaller on the phone, named by its hash. The hash is a library's: browsers have one on secure pages only.
import { sha256 } from "@noble/hashes/sha2.js";
import { UserError } from "../../shared/lib/http";
import { say } from "../../shared/lib/words";
import { hex, type Photo } from "./entry";
import { takenOf } from "./exif";
import type { KeptPhoto } from "./store";

/** The longest side of a photo in pixels, and its most bytes. */
const most = { side: 1600, bytes: 500_000 };
/** The qualities that are tried, and how much smaller the sides become after that. */
const qualities = [0.85, 0.75, 0.6, 0.45];
const smaller = 0.7;

export const hashOf = (bytes: ArrayBuffer): string => hex(sha256(new Uint8Array(bytes)));

/** The size of a picture that fits in a square. */
export function fitted(width: number, height: number, side: number): [number, number] {
  const by = Math.min(1, side / Math.max(width, height, 1));
  return [Math.max(1, Math.round(width * by)), Math.max(1, Math.round(height * by))];
}

/** Makes a chosen file into a photo of a mark. */
export async function shrunkPhoto(file: Blob, pack: string): Promise<{ photo: Photo; kept: KeptPhoto }> {
  const picture = await decoded(file);
  const taken = takenOf(await file.slice(0, 128 * 1024).arrayBuffer());
  let bytes: ArrayBuffer | null = null;
  for (let side = most.side; bytes === null; side = Math.round(side * smaller)) {
    if (side < 200) throw new UserError(say("marking.photo_unread"));
    bytes = await encoded(picture, side);
  }
  const hash = hashOf(bytes);
  return { photo: { hash, type: "image/jpeg", bytes: bytes.byteLength, ...taken }, kept: { hash, pack, type: "image/jpeg", bytes } };
}

/** The picture of a file, upright as its camera held it. */
function decoded(file: Blob): Promise<HTMLImageElement> {
  return new Promise((done, fail) => {
    const image = new Image();
    const url = URL.createObjectURL(file);
    image.onload = () => {
      URL.revokeObjectURL(url);
      done(image);
    };
    image.onerror = () => {
      URL.revokeObjectURL(url);
      fail(new UserError(say("marking.photo_unread")));
    };
    image.src = url;
  });
}

async function encoded(image: HTMLImageElement, side: number): Promise<ArrayBuffer | null> {
  const canvas = document.createElement("canvas");
  [canvas.width, canvas.height] = fitted(image.naturalWidth, image.naturalHeight, side);
  const context = canvas.getContext("2d");
  if (context === null) throw new UserError(say("marking.photo_unread"));
  context.fillStyle = "#ffffff"; // under what a PNG has no color for
  context.fillRect(0, 0, canvas.width, canvas.height);
  context.drawImage(image, 0, 0, canvas.width, canvas.height);
  for (const quality of qualities) {
    const blob = await new Promise<Blob | null>((done) => canvas.toBlob(done, "image/jpeg", quality));
    if (blob !== null && blob.size <= most.bytes) return blob.arrayBuffer();
  }
  return null;
}
