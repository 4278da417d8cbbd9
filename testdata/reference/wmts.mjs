// Holds WMTS capabilities and OWS exception reports against the schemas of OGC,
// in the mapping of them to JSON that npm ogc-schemas has (made mechanically
// from the XSDs of 07-057r7 and 06-121r3):
//   node wmts.mjs FILE…
// It prints what is wrong, a line each, and ends with 1 if anything is.
// The limits of tiles are of type positiveInteger there although the text allows
// 0; OGC 11-037 calls that a mistake, and it is set right here.
import { readFileSync } from "node:fs";
import { createRequire } from "node:module";
import Ajv from "ajv-draft-04";

const require = createRequire(import.meta.url);
const { Jsonix } = require("jsonix");
const { XLink_1_0 } = require("w3c-schemas");
const { GML_3_1_1, OWS_1_1_0, SMIL_2_0, SMIL_2_0_Language, WMTS_1_0 } = require("ogc-schemas"); // WMTS_1_0 names the others

const schema = (name) => JSON.parse(readFileSync(require.resolve(name), "utf8"));
const wmts = schema("ogc-schemas/jsonschemas/WMTS_1_0.jsonschema");
for (const limit of ["minTileRow", "maxTileRow", "minTileCol", "maxTileCol"]) {
  const { allOf } = wmts.definitions.TileMatrixLimits.properties[limit];
  allOf[0].$ref = allOf[0].$ref.replace("positiveInteger", "nonNegativeInteger");
}
const types = schema("jsonix/jsonschemas/w3c/2001/XMLSchema.jsonschema");
delete types.definitions.dateTime; // written for a later draft of JSON Schema, and not used by these documents
delete types.definitions.time;
const ows = schema("ogc-schemas/jsonschemas/OWS_1_1_0.jsonschema");
delete ows.definitions.UnNamedDomainType.required; // the mapping asks for every branch of a choice
// What the mapping points to and lacks, attributes of XLink and features of GML, may be anything.
for (const s of [ows, wmts]) {
  for (const [, name] of JSON.stringify(s).matchAll(/"#\/definitions\/(\w+)"/g)) s.definitions[name] ??= {};
}
const ajv = new Ajv({ strict: false, allErrors: true, validateFormats: false });
ajv.addSchema(schema("jsonix/jsonschemas/jsonix/Jsonix.jsonschema"));
ajv.addSchema(types);
ajv.addSchema(ows);
ajv.addSchema(wmts);

const mappings = [XLink_1_0, OWS_1_1_0, WMTS_1_0, GML_3_1_1, SMIL_2_0, SMIL_2_0_Language];
const context = new Jsonix.Context(mappings, { namespacePrefixes: {} });

const roots = { WMTS_1_0: wmts.id, OWS_1_1_0: ows.id };

/** Holds each element against its own type: the mapping does not say that a Layer may stand where it stands. */
function faultsOf(value, at) {
  if (value === null || typeof value !== "object") return [];
  let out = Object.entries(value).flatMap(([key, inner]) => faultsOf(inner, `${at}/${key}`));
  if (value.TYPE_NAME) {
    const [space, name] = value.TYPE_NAME.split(".");
    const valid = ajv.getSchema(`${roots[space].replace(/#$/, "")}#/definitions/${name}`);
    if (!valid) throw new Error(`the schema has no ${value.TYPE_NAME}`);
    if (!valid(value)) out = out.concat(valid.errors.map((e) => `${at}${e.instancePath}: ${e.message}`));
  }
  return out;
}

/** What is wrong with a document. Reading it fails on an element that its type does not know. */
function faults(text) {
  const { value } = context.createUnmarshaller().unmarshalString(text);
  return [...new Set(faultsOf(JSON.parse(JSON.stringify(value)), ""))];
}

let wrong = 0;
for (const file of process.argv.slice(2)) {
  let all;
  try {
    all = faults(readFileSync(file, "utf8"));
  } catch (e) {
    all = [String(e.message ?? e)];
  }
  for (const fault of all) console.log(`${file}: ${fault}`);
  wrong += all.length;
}
process.exitCode = wrong > 0 ? 1 : 0;
