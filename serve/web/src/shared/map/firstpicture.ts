// The picture comes first: a browser asks only six things at a time, and
// records would stand in its way.
import type OLMap from "ol/Map";
import type TileLayer from "ol/layer/Tile";

/** How long records wait for the picture at most, in milliseconds. */
const maxWaitMs = 800;

/** Resolves when a first piece of picture is on screen, or when there is none to wait for. */
export function firstPicture(map: OLMap, layer: TileLayer): Promise<void> {
  map.renderSync(); // now, and not at the next frame: it asks for the tiles
  return new Promise((done) => {
    const source = layer.getSource();
    setTimeout(done, maxWaitMs);
    source?.once("tileloadend", () => requestAnimationFrame(() => setTimeout(done)));
    source?.once("tileloaderror", () => done());
    map.once("rendercomplete", () => done()); // nothing to load here
  });
}
