// What the page says to people stands in tiles/words/words.json: a sentence in
// the source would be read by nobody who reads the file in one go.
import assert from "node:assert/strict";
import { readFile, readdir } from "node:fs/promises";
import test from "node:test";
import { table } from "./load.mjs";

/** Literals that a program reads, by what stands around them. */
const technical = [
  /\/\*.*?\*\//gs, /(^|\s)\/\/.*$/gm, /^import .*$/gm, // comments and imports
  /[!=]==\s*"[^"\n]*"/g, /\bcase "[^"\n]*"/g, /"[^"\n]*"(\s*\|\s*"[^"\n]*")+/g, // compared, and types
  /\bmake\([^,\n]+, (?:"[^"\n]*"|`[^`\n]*`)/g, /"(badge|fixed) [^"\n]*"/g, /\bclassName[:=] [^\n]*?["`][^"`\n]*["`]/g, /\bclassName = [^;\n]*;/g, // classes
  /\b(getStored|setStored|Error|querySelector|querySelectorAll|closest)(?:<[^>\n]*>)?\((?:"[^"\n]*"|`[^`\n]*`)/g, // names and failures of the program
  /"\((?:prefers|max|min)-[^"\n]*"/g, /[`"]rgba\([^`"\n]*[`"]/g, /[`"]translate\([^`\n]*[`"]/g, /cssText = [^;\n]*;[^\n]*/g, /`\d+ \d+px [^`\n]*`/g, // style
  /"groundsheet[^"\n]*"/g,
];

/** Words that a program reads though they look like a sentence. */
const allowed = new Set(["near lines", "sheet map", "recorded line", "recorded outline", "recorded point", "test hole", // kinds that others say, and a class
  "surface feature", "nothing found", // kinds of marks, and how they were found, as marks keep them
  "electromagnetic, connected", "electromagnetic, clamp", "electromagnetic, induced", "electromagnetic, passive", "ground radar", "surface features", "paint or flags",
  "told by somebody"]);

/** Units, and the name of the program. */
const bare = /\b(acres|min|days|groundsheet)\b/g;

/** The sentences in a source. */
function sentences(source) {
  const left = technical.reduce((text, form) => text.replace(form, (m, before) => (typeof before === "string" && /^\s$/.test(before) ? before : "")), source);
  return [...left.matchAll(/"([^"\n]*)"|`([^`]*)`/g)].map(([, plain, filled]) => plain ?? filled).filter((text) => {
    const words = text.replace(/\$\{[^}]*\}/g, "#").replace(bare, "#").trim();
    return /\s/.test(words) && /\b[a-z]{3,}\b/.test(words) && !allowed.has(text);
  });
}

table("a sentence in the source", [
  ["plain", sentences(`show("Nothing recorded here.");`), ["Nothing recorded here."]],
  ["filled", sentences("show(`${n} things here`);"), ["${n} things here"]],
  ["said by its key", sentences(`show(say("here.records", { n }));`), []],
  ["a class", sentences(`make("li", "badge bad", text)`), []],
  ["compared", sentences(`if (state === "not fit") go();`), []],
  ["a number with its unit", sentences("return `${n} min`;"), []],
]);

const src = new URL("../src/", import.meta.url);
for (const file of (await readdir(src, { recursive: true })).filter((name) => name.endsWith(".ts"))) {
  test(`${file} has no sentence of its own`, async () => {
    const source = await readFile(new URL(file, src), "utf8");
    assert.deepEqual(sentences(source), []);
    assert.equal(sentences(`${source}\nshow("One would be seen here.");`).length, 1);
  });
}

test("what a crew adds is a mark, on the button too: a find is what is handed over, and a record what the office brought", async () => {
  const { marking } = JSON.parse(await readFile(new URL("../../../tiles/words/words.json", import.meta.url), "utf8"));
  assert.match(marking.mark, /\bmark\b/);
  assert.doesNotMatch(marking.mark, /record/i);
  for (const [name, text] of Object.entries(marking)) assert.doesNotMatch(text, /\bfinds?\b/i, name);
});
