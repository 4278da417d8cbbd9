// The floors of the page's sources: no import circle between files or folders, nothing
// shared imports from a page, and every export has a user.
import assert from "node:assert/strict";
import { readFile, readdir } from "node:fs/promises";
import { dirname, join, normalize } from "node:path/posix";
import test from "node:test";
import { table } from "./load.mjs";

/** The relative imports of a source: its specifier, and the names it takes. */
function importsOf(source) {
  return [...source.matchAll(/^import (?:type )?([^"]*?)(?: from )?"(\.[^"]+)";$/gm)]
    .map(([, clause, from]) => ({ from, names: [...clause.matchAll(/(?:type )?(\w+)(?: as \w+)?/g)].map(([, name]) => name) }));
}

/** The names that a source exports. */
const exportsOf = (source) => [...source.matchAll(/^export (?:declare )?(?:async )?(?:function|const|let|class|interface|type) (\w+)/gm)].map(([, name]) => name);

/** A circle in a graph, as "a → b → a"; "" for none. */
function circle(graph) {
  const done = new Set();
  const visit = (node, path) => {
    if (path.includes(node)) return [...path.slice(path.indexOf(node)), node].join(" → ");
    if (done.has(node)) return "";
    for (const next of graph.get(node) ?? []) {
      const found = visit(next, [...path, node]);
      if (found !== "") return found;
    }
    done.add(node);
    return "";
  };
  for (const node of graph.keys()) {
    const found = visit(node, []);
    if (found !== "") return found;
  }
  return "";
}

/** The graph of the folders of a graph of files. */
function foldersOf(graph) {
  const folders = new Map();
  for (const [file, imports] of graph) {
    const all = folders.get(dirname(file)) ?? new Set();
    for (const i of imports) if (dirname(i) !== dirname(file)) all.add(dirname(i));
    folders.set(dirname(file), all);
  }
  return folders;
}

const graphOf = (arrows) => new Map(Object.entries(arrows));
table("a circle", [
  ["none", circle(graphOf({ a: ["b", "c"], b: ["c"], c: [] })), ""],
  ["of two", circle(graphOf({ a: ["b"], b: ["a"] })), "a → b → a"],
  ["behind a start", circle(graphOf({ a: ["b"], b: ["c"], c: ["b"] })), "b → c → b"],
  ["of folders alone", circle(foldersOf(graphOf({ "x/a": ["y/b"], "y/b": [], "y/c": ["x/d"], "x/d": [] }))), "x → y → x"],
]);
table("imports", [
  ["names", importsOf('import { type A, b as c } from "./d";\nimport E from "ol/E";\nimport "./f.css";'), [{ from: "./d", names: ["A", "b"] }, { from: "./f.css", names: [] }]],
  ["on several lines", importsOf('import {\n  a,\n  b,\n} from "../c";'), [{ from: "../c", names: ["a", "b"] }]],
  ["exports", exportsOf("export function a() {}\nexport const b = 1;\nexport interface C {}\nconst d = 2;"), ["a", "b", "C"]],
]);

const src = new URL("../src/", import.meta.url);
const names = (await readdir(src, { recursive: true })).filter((name) => name.endsWith(".ts") && !name.endsWith(".d.ts"));
const sources = new Map(await Promise.all(names.map(async (name) => [name, await readFile(new URL(name, src), "utf8")])));
const files = new Map();
const used = new Map(names.map((name) => [name, new Set()])); // file → the names that others import from it
for (const [name, source] of sources) {
  const targets = [];
  for (const { from, names: taken } of importsOf(source)) {
    const target = `${normalize(join(dirname(name), from))}.ts`;
    if (!sources.has(target)) continue; // a style sheet, or the texts
    targets.push(target);
    for (const one of taken) used.get(target).add(one);
  }
  files.set(name, targets);
}

test("no circle between files", () => assert.equal(circle(files), ""));
test("no circle between folders", () => assert.equal(circle(foldersOf(files)), ""));
test("nothing shared imports from a page", () => {
  const wrong = [...files].flatMap(([name, targets]) => targets.filter((t) => name.startsWith("shared/") && !t.startsWith("shared/")).map((t) => `${name} imports ${t}`));
  assert.deepEqual(wrong, []);
});
test("no page imports from another", () => {
  const pageOf = (name) => name.split("/")[0];
  const wrong = [...files].flatMap(([name, targets]) => targets.filter((t) => !t.startsWith("shared/") && pageOf(t) !== pageOf(name)).map((t) => `${name} imports ${t}`));
  assert.deepEqual(wrong, []);
});
test("every import is found by this test", () => {
  const all = [...sources.values()].flatMap((s) => s.match(/^(import|\} from) /gm) ?? []).length;
  assert.ok([...files.values()].flat().length > all / 3, "few imports were read");
});
test("every export has a user", async () => {
  const tests = (await Promise.all((await readdir(new URL(".", import.meta.url))).filter((f) => f.endsWith(".mjs"))
    .map((f) => readFile(new URL(f, import.meta.url), "utf8")))).join("\n");
  const dead = [...sources].flatMap(([name, source]) => exportsOf(source)
    .filter((one) => !used.get(name).has(one) && !new RegExp(`\\b${one}\\b`).test(tests)).map((one) => `${name}: ${one}`));
  assert.deepEqual(dead, []);
});
