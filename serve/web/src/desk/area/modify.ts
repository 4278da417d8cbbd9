// Dragging what is drawn already: corners of outlines and routes, and the two handles of a circle.
import type Collection from "ol/Collection";
import type Feature from "ol/Feature";
import { altKeyOnly, click } from "ol/events/condition";
import { type Point, Point as PointGeometry } from "ol/geom";
import type Geometry from "ol/geom/Geometry";
import Modify from "ol/interaction/Modify";
import { direct, inverse, type LonLat } from "../../shared/coords/geodesic";
import type { Follow } from "./follow";
import { lengthTyped, typed } from "./ground";
import { placeOf, type Shape } from "./shapes";
import { circleGeometry, cornersOf, shapeNow, shapeOf, toMap, toPlace } from "./sketch";
import { type Live, reach, type ToolContext } from "./toolcontext";

/** There is one: each listens to the chosen features for as long as it lives. */
export function makeModify(c: ToolContext, chosen: Collection<Feature<Geometry>>, follow: Follow): Modify {
  const { sketch } = c;
  const handleAt = (name: string): LonLat => {
    const h = sketch.handles.getFeatures().find((f) => f.get("handle") === name);
    return toPlace(h?.getGeometry()?.getCoordinates() ?? [0, 0]);
  };

  /** A circle as its two handles say; the one that moves last decides. */
  function circleNow(s: Shape): Shape {
    const [center, rim] = [handleAt("center"), handleAt("rim")];
    const moved = s.center === undefined || String(placeOf(s.center)) !== String(center);
    if (moved) return { ...s, center };
    return { ...s, radius: typed(inverse(center, rim).metres, c.units()) };
  }

  function circleLive(h: Feature<Point>): Live {
    const f = sketch.chosen as Feature<Geometry>;
    const s = circleNow(shapeOf(f));
    const metres = lengthTyped(s.radius ?? "") ?? 0;
    f.setGeometry(circleGeometry(s.center as LonLat, metres));
    if (h.get("handle") === "center") rimHandle()?.setGeometry(new PointGeometry(toMap(direct(s.center as LonLat, 90, metres).at)));
    return { kind: "circle", lines: [], metres };
  }
  const rimHandle = () => sketch.handles.getFeatures().find((f) => f.get("handle") === "rim");

  const modify = new Modify({ features: chosen, pixelTolerance: reach, deleteCondition: (e) => altKeyOnly(e) && click(e) });
  let off: (() => void)[] = [];
  modify.on("modifystart", (e) => {
    off = e.features.getArray().map((f) => {
      const g = f.getGeometry() as Geometry;
      const changed = follow.of(() => (f.get("handle") === undefined ? { kind: shapeOf(f as never).kind, lines: cornersOf(g) } : circleLive(f as Feature<Point>)));
      g.on("change", changed);
      return () => g.un("change", changed);
    });
  });
  modify.on("modifyend", () => {
    off.forEach((f) => f());
    const f = sketch.chosen;
    follow.end();
    if (f === null) return;
    const before = shapeOf(f);
    const after = before.kind === "circle" ? circleNow(before) : shapeNow(f);
    if (before.kind !== "circle") f.set("shape", after, true); // it is shown already: nothing is drawn or indexed anew
    setTimeout(() => c.changed(before, after));
  });
  return modify;
}
