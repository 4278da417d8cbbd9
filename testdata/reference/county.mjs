// Writes real county outlines as GeoJSON, from the npm package us-atlas 3.0.1
// (US Census Bureau cartographic boundary files, 2017 edition, public domain).
//
//   node county.mjs FIPS OUT.geojson        one county
//   node county.mjs around FIPS OUT.geojson the county and all that share its state, each with a "shade"
//   node county.mjs all OUT.geojson         every county, as the source has it: 40 of them are not valid
import { readFileSync, writeFileSync } from "node:fs";
import { createRequire } from "node:module";
import { feature } from "topojson-client";

const atlas = JSON.parse(readFileSync(createRequire(import.meta.url).resolve("us-atlas/counties-10m.json")));
const counties = feature(atlas, atlas.objects.counties).features;

const [first, second, third] = process.argv.slice(2);
const around = first === "around";
const all = first === "all";
const fips = around ? second : first;
const out = around ? third : second;
const county = counties.find((c) => c.id === fips);
if ((!county && !all) || !out) {
  console.error("usage: node county.mjs [around] FIPS OUT.geojson\n       node county.mjs all OUT.geojson");
  process.exit(2);
}
const chosen = all ? counties : around ? counties.filter((c) => c.id.slice(0, 2) === fips.slice(0, 2)) : [county];
const features = chosen.map((c, i) => ({
  type: "Feature",
  id: c.id,
  properties: { name: c.properties.name, shade: 20 + ((i * 37) % 200) },
  geometry: c.geometry,
}));
writeFileSync(out, JSON.stringify({ type: "FeatureCollection", features }));
