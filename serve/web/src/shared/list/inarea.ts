// Whether a recorded shape touches the dig area, as drawn. Flat in projected meters: edges of both
// are straight on the map.
import { boundingExtent, intersects } from "ol/extent";
import { Geometry, GeometryCollection, LineString, MultiLineString, MultiPoint, MultiPolygon, Point, Polygon } from "ol/geom";

type Position = number[];

/** The lines of a shape, a point as a line of one position. */
function pathsOf(g: Geometry): Position[][] {
  if (g instanceof Point) return [[g.getCoordinates()]];
  if (g instanceof MultiPoint) return g.getCoordinates().map((p) => [p]);
  if (g instanceof LineString) return [g.getCoordinates()];
  if (g instanceof MultiLineString || g instanceof Polygon) return g.getCoordinates();
  if (g instanceof MultiPolygon) return g.getCoordinates().flat();
  if (g instanceof GeometryCollection) return g.getGeometriesArray().flatMap(pathsOf);
  return [];
}

const side = (a: Position, b: Position, c: Position): number =>
  ((b[0] ?? 0) - (a[0] ?? 0)) * ((c[1] ?? 0) - (a[1] ?? 0)) - ((b[1] ?? 0) - (a[1] ?? 0)) * ((c[0] ?? 0) - (a[0] ?? 0));

/** Whether two edges meet; edges along one another meet where an end of one is an end's neighbor, which the test of positions finds. */
const cross = (a: Position, b: Position, c: Position, d: Position): boolean =>
  side(a, b, c) * side(a, b, d) <= 0 && side(c, d, a) * side(c, d, b) <= 0;

const edgesOf = (path: Position[]): [Position, Position][] => path.slice(1).map((p, i) => [path[i] as Position, p]);

/** Gives the test of shapes against some areas. */
export function makeInArea(areas: Geometry[]): (g: Geometry) => boolean {
  const parts = areas.map((area) => ({ area, extent: area.getExtent(), edges: pathsOf(area).flatMap(edgesOf) }));
  return (g) => parts.some(({ area, extent, edges }) => {
    if (!intersects(extent, g.getExtent())) return false;
    const paths = pathsOf(g);
    if (paths.some((path) => path.some((p) => area.intersectsCoordinate(p)))) return true;
    if (g instanceof Polygon || g instanceof MultiPolygon) {
      if (edges.some(([a]) => g.intersectsCoordinate(a))) return true; // the area lies within it
    }
    return paths.flatMap(edgesOf).some(([a, b]) => {
      const box = boundingExtent([a, b]);
      return intersects(extent, box) && edges.some(([c, d]) => intersects(boundingExtent([c, d]), box) && cross(a, b, c, d));
    });
  });
}
