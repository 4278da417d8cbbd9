// A vector tile as the npm package @mapbox/vector-tile 3.0.0 reads it (general-purpose, BSD).
//
//   node vectortile.mjs Z X Y < tile.mvt
// writes its features as GeoJSON, each with its layer and its id.
import { readFileSync } from "node:fs";
import { VectorTile } from "@mapbox/vector-tile";
import { PbfReader } from "pbf";

const [z, x, y] = process.argv.slice(2).map(Number);
const tile = new VectorTile(new PbfReader(readFileSync(0)));
const all = [];
for (const [name, layer] of Object.entries(tile.layers)) {
  for (let i = 0; i < layer.length; i++) {
    const f = layer.feature(i);
    all.push({ layer: name, version: layer.version, ...f.toGeoJSON(x, y, z), id: f.id });
  }
}
process.stdout.write(JSON.stringify(all));
