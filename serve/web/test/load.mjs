// Bundles TypeScript in memory, so that node can look at it alone.
import assert from "node:assert/strict";
import { dirname, join } from "node:path";
import test from "node:test";
import { fileURLToPath } from "node:url";
import { build } from "esbuild";

const src = join(dirname(fileURLToPath(import.meta.url)), "../src");

/** The exports of a module that stands beside the source files. */
export async function bundle(contents) {
  const { outputFiles } = await build({
    stdin: { contents, resolveDir: src, loader: "ts" }, bundle: true, write: false, format: "esm", target: "node20", loader: { ".css": "empty" },
  });
  return import(`data:text/javascript;base64,${Buffer.from(outputFiles[0].contents).toString("base64")}`);
}

/** The exports of a source file. */
export const load = (name) => bundle(`export * from "./${name}"`);

/** Runs a table of [name, got, wanted]. */
export function table(title, rows) {
  for (const [name, got, wanted] of rows) test(`${title}: ${name}`, () => assert.deepEqual(got, wanted));
}
