// What the page is bundled from, and for which browsers; build.mjs writes it, a test looks through it.
import { dirname } from "node:path";
import { fileURLToPath } from "node:url";

/** The oldest browsers that can show the map, as esbuild names them. The page's words page.too_old say the same. */
export const oldest = ["chrome90", "firefox90", "ios15"];

const shared = {
  absWorkingDir: dirname(fileURLToPath(import.meta.url)),
  outdir: "dist",
  bundle: true,
  minify: true,
  format: "iife",
  charset: "utf8",
  legalComments: "none",
  metafile: true,
  logLevel: "warning",
};

/** The page, its two workers and the join page. */
export const page = {
  ...shared,
  entryPoints: { app: "src/field/main.ts", events: "src/field/live/sharedworker.ts", join: "src/field/join/join.ts", sw: "src/field/offline/serviceworker.ts" },
  target: oldest,
};

/** What tells that a browser is too old, in the language of all browsers. */
export const guard = { ...shared, entryPoints: { guard: "src/shared/lib/guard.ts" }, target: "es5" };
