// Holds KML files against the schema of OGC (KML 2.3, 12-007r2), in the mapping of it to
// JSON that npm ogc-schemas has:
//   node kml.mjs FILE…
// It prints what is wrong, a line each, and ends with 1 if anything is. The mapping keeps
// what the schema names and passes over other elements, so each element that was read is
// counted against those of the file.
import { readFileSync } from "node:fs";
import { createRequire } from "node:module";

const require = createRequire(import.meta.url);
const { Jsonix } = require("jsonix");
const schemas = require("ogc-schemas");
const { Atom_1_0, XLink_1_0 } = require("w3c-schemas");

const mappings = [schemas.KML_2_3, schemas.xAL_2_0, Atom_1_0, XLink_1_0];
const context = new Jsonix.Context(mappings, { namespacePrefixes: { "http://www.opengis.net/kml/2.2": "" } });
let wrong = 0;
for (const file of process.argv.slice(2)) {
  const text = readFileSync(file, "utf8");
  try {
    const read = context.createUnmarshaller().unmarshalString(text);
    const again = context.createMarshaller().marshalString(read);
    const count = (xml) => {
      const n = {};
      for (const [, name] of xml.matchAll(/<(?:\w+:)?([A-Za-z]+)[\s/>]/g)) n[name] = (n[name] ?? 0) + 1;
      return n;
    };
    const [before, after] = [count(text), count(again)];
    for (const name of Object.keys(before)) {
      if (before[name] !== after[name]) {
        console.log(`${file}: ${before[name]} ${name}, of which the schema knows ${after[name] ?? 0}`);
        wrong++;
      }
    }
  } catch (e) {
    console.log(`${file}: ${e.message ?? e}`);
    wrong++;
  }
}
process.exit(wrong ? 1 : 0);
