// The picture loads first: a browser has six connections to a host, and records would occupy them.
import type OLMap from "ol/Map";
import type TileLayer from "ol/layer/Tile";

/** The longest that records wait for the picture, in milliseconds. */
const maxWaitMs = 800;

/** Resolves when the first tile is on screen, or when there is none to wait for. */
export function firstPicture(map: OLMap, layer: TileLayer): Promise<void> {
  map.renderSync(); // requests the tiles now instead of at the next frame
  return new Promise((done) => {
    const source = layer.getSource();
    setTimeout(done, maxWaitMs);
    source?.once("tileloadend", () => requestAnimationFrame(() => setTimeout(done)));
    source?.once("tileloaderror", () => done());
    map.once("rendercomplete", () => done()); // nothing to load here
  });
}
