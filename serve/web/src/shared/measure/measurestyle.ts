// The style of a measurement: ink and paper, which are no utility's colors.
import { Fill, RegularShape, Stroke, Style } from "ol/style";
import type { StyleFunction } from "ol/style/Style";
import { cachedByTheme, theme } from "../lib/theme";

export function measureStyle(): StyleFunction {
  const lit = cachedByTheme(() => {
    const { ink, paper } = theme();
    return [
      new Style({ stroke: new Stroke({ color: paper, width: 7 }) }),
      new Style({
        stroke: new Stroke({ color: ink, width: 3 }), // no fill, which would dim the records below
        image: new RegularShape({ points: 4, angle: Math.PI / 4, radius: 10, fill: new Fill({ color: ink }), stroke: new Stroke({ color: paper, width: 3 }) }),
      }),
    ];
  });
  return () => lit("");
}
