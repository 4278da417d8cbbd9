// A map program of somebody else: it knows an address and a layer, and nothing
// of our server. Bundled by the test alone (standards.mjs).
import Map from "ol/Map.js";
import View from "ol/View.js";
import WMTSCapabilities from "ol/format/WMTSCapabilities.js";
import TileLayer from "ol/layer/Tile.js";
import OGCMapTile from "ol/source/OGCMapTile.js";
import WMTS, { optionsFromCapabilities } from "ol/source/WMTS.js";
import XYZ from "ol/source/XYZ.js";

/** Each way is told one address and finds the tiles by itself. */
const ways = {
  async wmts({ url, layer, encoding }) {
    const capabilities = new WMTSCapabilities().read(await (await fetch(url)).text());
    const options = optionsFromCapabilities(capabilities, { layer, requestEncoding: encoding });
    if (!options) throw new Error("the capabilities cannot be used");
    return new WMTS({ ...options, interpolate: false, transition: 0 });
  },
  async tileset({ url }) {
    return new OGCMapTile({ url, interpolate: false, transition: 0 });
  },
  async tilejson({ url }) {
    const t = await (await fetch(url)).json();
    return new XYZ({ url: t.tiles[0], minZoom: t.minzoom, maxZoom: t.maxzoom, tileSize: t.size ?? 256, interpolate: false, transition: 0 });
  },
};

let map;

/** Draws one source alone; ends when all of it is painted. */
window.draw = async (way, facts, center, resolution) => {
  map?.setTarget(null);
  const source = await ways[way](facts);
  const asked = [];
  source.on("tileloaderror", () => asked.push("failed"));
  source.on("tileloadend", (e) => asked.push(e.tile.src_ ?? e.tile.getKey()));
  map = new Map({
    target: "map", pixelRatio: 1, controls: [], interactions: [],
    layers: [new TileLayer({ source, preload: 0 })],
    view: new View({ center, resolution, constrainResolution: false }),
  });
  await new Promise((done) => map.once("rendercomplete", () => setTimeout(done, 150)));
  return asked;
};
