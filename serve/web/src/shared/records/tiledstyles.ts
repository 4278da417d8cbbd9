// The map styles of tiled records: as those of others, with a ring around a dot that stands for
// several. A tile has the inside and the edge of a polygon as separate features.
import type { FeatureLike } from "ol/Feature";
import type { StyleFunction } from "ol/style/Style";
import type { Overlay } from "../lib/api";
import { cachedByTheme } from "../lib/theme";
import { casingMark, colourMark } from "./linemarks";
import type { MarkPlaces } from "./markplaces";
import { dotEdgePicture, dotPicture, pointMark, ringEdgePicture, ringPicture, testHoleEdgePicture } from "./pointmarks";
import { qualityLevelOf } from "./record";
import { faceMark, lineKey, lookOf, shapeOf } from "./styles";
import { isTestHole } from "./testhole";
import { mergedKey, radiusKey } from "./tiledots";

/** The style of lines and polygons. */
export function tiledLineStyle(o: Overlay, places: MarkPlaces): StyleFunction {
  const known = (f: FeatureLike) => lineKey(qualityLevelOf(f, o).value, f);
  const lines = cachedByTheme((key) => colourMark("line", lookOf(o, key, places.lettersAt)));
  const edges = cachedByTheme((key) => colourMark("outline", lookOf(o, key, null)));
  const faces = cachedByTheme((key) => faceMark(o, key));
  return (f) => {
    if (shapeOf(f).endsWith("Point")) return undefined;
    switch (f.get("layer")) {
      case "edges": return edges(known(f));
      case "faces": return faces(known(f));
      default: return lines(known(f));
    }
  };
}

/** The style of the edges of lines and test holes; those of dots are in bundles. */
export function tiledCasingStyle(o: Overlay, places: MarkPlaces): StyleFunction {
  const known = (f: FeatureLike) => lineKey(qualityLevelOf(f, o).value, f);
  const lines = cachedByTheme((key) => casingMark("line", lookOf(o, key, places.lettersAt)));
  const edges = cachedByTheme((key) => casingMark("outline", lookOf(o, key, null)));
  const square = cachedByTheme(() => pointMark("test hole", testHoleEdgePicture(o), false));
  return (f) => {
    if (shapeOf(f).endsWith("Point")) return isTestHole(f) ? square("") : undefined;
    switch (f.get("layer")) {
      case "edges": return edges(known(f));
      case "faces": return undefined;
      default: return lines(known(f));
    }
  };
}

/** The style of bundles of dots, or of their edges. A tap asks the server. */
export function bundleStyle(o: Overlay, edge: boolean): StyleFunction {
  const dots = cachedByTheme((radius) => pointMark("reading", (edge ? dotEdgePicture : dotPicture)(o, Number(radius)), false));
  const rings = cachedByTheme((radius) => pointMark("several", (edge ? ringEdgePicture : ringPicture)(o, Number(radius)), false));
  return (f) => (f.get(mergedKey) === true ? rings : dots)(String(f.get(radiusKey)));
}
