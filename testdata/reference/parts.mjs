// Holds lists of parts against the JSON schema of CycloneDX 1.5 (ECMA-424 is its successor),
// as npm @cyclonedx/cyclonedx-library carries it, and against what the schema cannot say:
// references lead to a part, and licenses are of the SPDX License List (its exceptions, after
// WITH, are not in the schema):
//   node parts.mjs FILE…
// It prints what is wrong, a line each, and ends with 1 if anything is.
import { readFileSync } from "node:fs";
import { fileURLToPath } from "node:url";
import Ajv from "ajv";

const folder = new URL("node_modules/@cyclonedx/cyclonedx-library/res/schema/", import.meta.url);
const schema = (name) => JSON.parse(readFileSync(fileURLToPath(new URL(`${name}.SNAPSHOT.schema.json`, folder)), "utf8"));
const ajv = new Ajv({ strict: false, allErrors: true, validateFormats: false });
const [spdx, signature] = [schema("spdx"), schema("jsf-0.82")];
ajv.addSchema(spdx, "http://cyclonedx.org/schema/spdx.SNAPSHOT.schema.json");
ajv.addSchema(signature, "http://cyclonedx.org/schema/jsf-0.82.SNAPSHOT.schema.json");
const valid = ajv.compile(schema("bom-1.5"));
const licenses = new Set(spdx.enum);

function faults(list) {
  const all = valid(list) ? [] : valid.errors.map((e) => `${e.instancePath}: ${e.message}`);
  const refs = [list.metadata?.component, ...(list.components ?? [])].map((c) => c?.["bom-ref"]);
  for (const ref of refs.filter((r, i) => refs.indexOf(r) !== i)) all.push(`two parts are ${ref}`);
  for (const d of list.dependencies ?? []) {
    for (const ref of [d.ref, ...(d.dependsOn ?? [])]) if (!refs.includes(ref)) all.push(`no part is ${ref}`);
  }
  for (const c of list.components ?? []) {
    for (const { expression } of c.licenses ?? []) {
      for (const id of expression.replace(/ WITH \S+/g, "").split(/ AND | OR |[()]/)) {
        if (id !== "" && !licenses.has(id)) all.push(`${c.name}: SPDX has no license ${id}`);
      }
    }
  }
  return all;
}

let wrong = 0;
for (const file of process.argv.slice(2)) {
  const all = faults(JSON.parse(readFileSync(file, "utf8")));
  for (const fault of all) console.log(`${file}: ${fault}`);
  wrong += all.length;
}
process.exitCode = wrong > 0 ? 1 : 0;
