// Builds the map page, its two workers, the join page and the icons into dist/, the desk into dist/desk/. Nothing is inline, so
// that the server can send a strict Content-Security-Policy.
import { build } from "esbuild";
import { cp, mkdir, readFile, readdir, rm, stat, writeFile } from "node:fs/promises";
import { dirname, join } from "node:path";
import { fileURLToPath } from "node:url";
import { gzipSync } from "node:zlib";
import { beside, buildPage, desk, guard } from "./bundle.mjs";
import { writeIcons } from "./icons.mjs";

// The license texts of all bundled packages, which must come with the bundle.
async function licences({ inputs }) {
  const packages = new Set();
  for (const path of Object.keys(inputs)) {
    const m = /node_modules\/((?:@[^/]+\/)?[^/]+)\//.exec(path);
    if (m) packages.add(m[1]);
  }
  let all = "Parts of this page come from these packages, under these terms.\n";
  for (const name of [...packages].sort()) {
    const folder = join(here, "node_modules", name);
    const file = (await readdir(folder)).find((f) => /^licen[cs]e/i.test(f));
    if (!file) throw new Error(`${name} has no licence file`);
    all += `\n== ${name}\n\n${await readFile(join(folder, file), "utf8")}`;
  }
  return all;
}

const texts = JSON.parse(await readFile(new URL("../../tiles/words/words.json", import.meta.url), "utf8"));

// Fills in the texts of a page, {{group.name}}.
function filled(text, file) {
  return text.replace(/\{\{(\w+)\.(\w+)\}\}/g, (_, group, name) => {
    const words = texts[group]?.[name];
    if (words === undefined) throw new Error(`${file}: there is no text ${group}.${name}`);
    return words.replace(/&/g, "&amp;").replace(/</g, "&lt;").replace(/"/g, "&quot;");
  });
}

const here = dirname(fileURLToPath(import.meta.url));
const dist = join(here, "dist");

await mkdir(dist, { recursive: true });
for (const name of await readdir(dist)) {
  if (name !== ".keep") await rm(join(dist, name), { recursive: true });
}
const bundled = { inputs: { ...(await buildPage()).inputs, ...(await buildPage(beside)).inputs } };
await build(guard);
for (const name of ["index.html", "join.html"]) await writeFile(join(dist, name), filled(await readFile(join(here, name), "utf8"), name));
await cp(join(here, "src/shared/icon.svg"), join(dist, "icon.svg"));
await cp(join(here, "manifest.webmanifest"), join(dist, "manifest.webmanifest"));
await writeIcons(join(here, "src/shared/icon.svg"), dist);
await writeFile(join(dist, "licences.txt"), await licences(bundled));

await writeDesk();

/** The desk: a page of its own, which no phone loads. */
async function writeDesk() {
  const to = join(dist, "desk");
  const built = await buildPage(desk);
  await writeFile(join(to, "index.html"), filled(await readFile(join(here, "desk.html"), "utf8"), "desk.html"));
  await writeFile(join(to, "licences.txt"), await licences(built));
  for (const name of ["guard.js", "icon.svg"]) await cp(join(dist, name), join(to, name));
}

/** What is loaded to show the map or the desk, and the most it may weigh, packed. */
const pages = [
  { name: "map page", files: ["index.html", "guard.js", "app.css", "app.js", "shared.js", "events.js", "sw.js", "icon.svg"], most: 200_000 },
  { name: "recording, after the first picture", files: ["marking.css", "marking.js"], most: 60_000 },
  { name: "desk", files: ["index.html", "guard.js", "desk.css", "desk.js", "icon.svg"].map((f) => join("desk", f)), most: 260_000 },
];

for (const { name, files, most } of pages) {
  let bytes = 0;
  let packed = 0;
  for (const file of files) {
    bytes += (await stat(join(dist, file))).size;
    packed += gzipSync(await readFile(join(dist, file)), { level: 9 }).length;
  }
  console.log(`${name} built: ${(bytes / 1000).toFixed(0)} kB, ${(packed / 1000).toFixed(0)} kB packed`);
  if (packed > most) throw new Error(`the ${name} weighs ${packed} bytes packed, more than ${most}: find what made it grow (esbuild --analyze)`);
}
