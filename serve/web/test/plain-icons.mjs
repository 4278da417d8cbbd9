// The icons of home screens are the one drawing.
import assert from "node:assert/strict";
import { mkdtemp, readFile, rm } from "node:fs/promises";
import { tmpdir } from "node:os";
import { join } from "node:path";
import test from "node:test";
import { parse, writeIcons } from "../icons.mjs";
import { decode } from "./pixels.mjs";

const drawing = new URL("../src/shared/icon.svg", import.meta.url);

test("the icons have their sizes, no edge that a phone could see through, and the drawing in the middle", async () => {
  const folder = await mkdtemp(join(tmpdir(), "groundsheet-icons-"));
  try {
    await writeIcons(drawing, folder);
    for (const [name, side, share] of [["apple-touch-icon.png", 180, 1], ["icon-192.png", 192, 1], ["icon-512.png", 512, 1], ["icon-maskable-512.png", 512, 0.62]]) {
      const { width, height, data } = decode(await readFile(join(folder, name)));
      const at = (x, y) => [0, 1, 2, 3].map((i) => data[(Math.floor((y - 16) * share / 32 * side + side / 2) * side + Math.floor((x - 16) * share / 32 * side + side / 2)) * 4 + i]);
      assert.deepEqual([width, height], [side, side]);
      assert.ok(data.every((v, i) => i % 4 !== 3 || v === 255), `${name} is not opaque`);
      assert.deepEqual([at(4, 10.5), at(16, 10.5), at(16, 23), at(16, 18), at(2, 30)], [[251, 250, 246, 255], [251, 250, 246, 255], [18, 22, 26, 255], [251, 250, 246, 255], [18, 22, 26, 255]], name);
    }
  } finally {
    await rm(folder, { recursive: true });
  }
});
test("a drawing of something else is refused, not drawn without it", () => {
  assert.throws(() => parse('<svg viewBox="0 0 32 32"><path fill="#000000" d="M0 0L3 4z"/></svg>'), /cannot draw <path fill="#000000" d="M0 0L3 4z">/);
});
