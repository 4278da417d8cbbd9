// What the page is bundled from, and for which browsers; build.mjs writes it, a test looks through it.
import { readFile } from "node:fs/promises";
import { dirname, join } from "node:path";
import { fileURLToPath } from "node:url";
import { build } from "esbuild";

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

/** The map page: what shows the map, and what records on site, which is loaded after the first picture. What both have is shared.js. */
export const page = {
  ...shared,
  entryPoints: { app: "src/field/main.ts", marking: "src/field/marking/marking.ts" },
  format: "esm",
  splitting: true,
  chunkNames: "shared",
  target: oldest,
};

/** Its two workers and the join page, and the style of what records: files of their own. */
export const beside = {
  ...shared,
  entryPoints: { marking: "src/field/marking/marking.css", events: "src/field/live/sharedworker.ts", join: "src/field/join/join.ts", sw: "src/field/offline/serviceworker.ts" },
  target: oldest,
};

/** The desk, for the browsers of an office. */
export const desk = { ...shared, outdir: "dist/desk", entryPoints: { desk: "src/desk/main.ts" }, target: oldest };

/** What tells that a browser is too old, in the language of all browsers. */
export const guard = { ...shared, entryPoints: { guard: "src/shared/lib/guard.ts" }, target: "es5" };

/** What the map library brings along and this page never uses: styles as JSON, its own buttons, other projections. */
const unused = {
  "ol/render/canvas/style.js": "export const flatStyleLikeToStyleFunction = () => { throw new Error('no flat styles'); };",
  "ol/control/defaults.js": "export const defaults = () => [];",
  "ol/reproj/Tile.js": "export default class {}",
};

const leftOut = {
  name: "left out",
  setup: (b) => b.onLoad({ filter: /[\\/]ol[\\/](render[\\/]canvas[\\/]style|control[\\/]defaults|reproj[\\/]Tile)\.js$/ }, ({ path }) => ({
    contents: Object.entries(unused).find(([file]) => path.replaceAll("\\", "/").endsWith(file))[1], loader: "js",
  })),
};

/** The texts of the page that some source files name, as "group.name". */
async function textsIn(files) {
  const named = new Set();
  for (const file of files) {
    for (const [, key] of (await readFile(join(shared.absWorkingDir, file), "utf8")).matchAll(/"(\w+\.\w+)"/g)) named.add(key);
  }
  return (texts) => Object.fromEntries(Object.entries(texts).map(([group, all]) =>
    [group, Object.fromEntries(Object.entries(all).filter(([name]) => named.has(`${group}.${name}`)))]));
}

/** The entries that are built together: all of a page that shares code, else one after the other. */
const together = (options) => (options.splitting ? [options] : Object.entries(options.entryPoints).map(([name, entry]) => ({ ...options, entryPoints: { [name]: entry } })));

/** The source files of what is loaded at once, and of what is loaded later. */
function filesOf({ inputs, outputs }, splitting) {
  const all = Object.keys(inputs).filter((f) => f.startsWith("src/") && f.endsWith(".ts"));
  const later = splitting ? Object.keys(outputs["dist/marking.js"].inputs) : [];
  return [all.filter((f) => !later.includes(f)), all.filter((f) => later.includes(f))];
}

/** Builds the page; each of its bundles carries the texts that its own files name, and no other. What is loaded later brings its texts along. */
export async function buildPage(options = page) {
  let inputs = {};
  for (const one of together(options)) {
    const { metafile } = await build({ ...one, write: false });
    const [atOnce, later] = await Promise.all(filesOf(metafile, one.splitting).map(textsIn));
    await build({ ...one, plugins: [leftOut, {
      name: "texts",
      setup: (b) => b.onLoad({ filter: /words\.json$/ }, async ({ path, suffix }) => (
        { contents: JSON.stringify((suffix === "?later" ? later : atOnce)(JSON.parse(await readFile(path, "utf8")))), loader: "json" })),
    }] });
    inputs = { ...inputs, ...metafile.inputs };
  }
  return { inputs };
}
