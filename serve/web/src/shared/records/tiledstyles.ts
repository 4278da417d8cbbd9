// The map styles of tiled records: as those of others, with a ring around a dot that stands for several.
import { Circle as CircleStyle, Fill, Stroke, Style } from "ol/style";
import type { StyleFunction } from "ol/style/Style";
import type { Overlay } from "../lib/api";
import { cachedByTheme } from "../lib/theme";
import type { DepthLabels } from "./depthlabels";
import { hatchFill } from "./linepattern";
import { mergedWith, qualityLevelOf } from "./record";
import { dotStyle, letterText, lineKey, lineStrokes, lineStyles, pointStyle, rankedLevel } from "./styles";
import { coloursOf, lineSymbol } from "./symbology";

/** The style of lines and polygons; a tile has the inside and the edge of a polygon as separate features. */
export function tiledLineStyle(o: Overlay): StyleFunction {
  const lines = cachedByTheme((key) => lineStyles(o, key));
  const edges = cachedByTheme((level) => lineStrokes(o, level).map((stroke) => new Style({ stroke })));
  const faces = cachedByTheme((level) => [new Style({ fill: hatchFill(lineSymbol(o.utility, level), coloursOf(o).colour), text: letterText(o, false) })]);
  return (f) => {
    if (f.getGeometry()?.getType().endsWith("Point")) return undefined;
    const level = rankedLevel(qualityLevelOf(f, o).value);
    switch (f.get("layer")) {
      case "edges": return edges(level);
      case "faces": return faces(level);
      default: return lines(lineKey(level, f));
    }
  };
}

/** The style of points: depth labels, and test holes; bundleStyle draws dots. A dot that stands for several has no depth. */
export function tiledPointStyle(o: Overlay, depths: DepthLabels): StyleFunction {
  const one = pointStyle(o, depths);
  return (f, resolution) => {
    const styles = one(f, resolution);
    return Array.isArray(styles) && mergedWith(f) === 0 ? styles : undefined; // a plain dot is a single style
  };
}

/** The property of a bundle of dots that tells whether each stands for several points. */
export const mergedKey = "merged";

/** The style of bundles of dots. */
export function bundleStyle(o: Overlay): StyleFunction {
  const dots = cachedByTheme(() => sprites([dotStyle(o)]));
  const rings = cachedByTheme(() => sprites([ringStyle(o), dotStyle(o)]));
  return (f) => (f.get(mergedKey) === true ? rings("") : dots(""));
}

function ringStyle(o: Overlay): Style {
  const { colour, casing } = coloursOf(o);
  return new Style({ image: new CircleStyle({ radius: 13, fill: new Fill({ color: casing }), stroke: new Stroke({ color: colour, width: 2.5 }) }) });
}

// Draws one image at many places in a single pass: a tenth of the work of an image style for each.
function sprites(of: Style[]): Style {
  return new Style({
    renderer: (coordinates, { context, pixelRatio }) => {
      const { width, height } = context.canvas;
      for (const style of of) {
        const picture = style.getImage()?.getImage(pixelRatio) as HTMLCanvasElement | undefined;
        if (!picture) continue;
        const side = picture.width;
        for (const [x, y] of coordinates as [number, number][]) {
          // On whole pixels: fractions are several times slower.
          const [left, top] = [Math.round(x - side / 2), Math.round(y - side / 2)];
          if (left > -side && top > -side && left < width && top < height) context.drawImage(picture, left, top);
        }
      }
    },
    hitDetectionRenderer: () => undefined, // a tap asks the server
  });
}
