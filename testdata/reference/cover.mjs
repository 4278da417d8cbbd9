// Tile covers by the npm package @mapbox/tile-cover 3.0.2 (general-purpose, MIT).
//
//   node cover.mjs < shapes.json
// reads [{"zoom": 12, "coordinates": MultiPolygon coordinates}, …] and writes,
// for each, its tiles as [[column, row], …] or what it failed with as a text.
import { readFileSync } from "node:fs";
import cover from "@mapbox/tile-cover";

const shapes = JSON.parse(readFileSync(0));
const covers = shapes.map(({ zoom, coordinates }) => {
  try {
    const tiles = cover.tiles({ type: "MultiPolygon", coordinates }, { min_zoom: zoom, max_zoom: zoom });
    return tiles.map(([x, y]) => [x, y]);
  } catch (error) {
    return String(error);
  }
});
process.stdout.write(JSON.stringify(covers));
