// Which features of a document lie near a place, as the server searches them (serve/vectortile/search.go).

type Position = number[];

/** A feature of GeoJSON, of which points, lines and outlines are searched. */
export interface KeptFeature {
  type: "Feature";
  geometry: Shape | null;
  properties: Record<string, unknown> | null;
}

type Shape =
  | { type: "Point"; coordinates: Position }
  | { type: "MultiPoint" | "LineString"; coordinates: Position[] }
  | { type: "MultiLineString" | "Polygon"; coordinates: Position[][] }
  | { type: "MultiPolygon"; coordinates: Position[][][] }
  | { type: "GeometryCollection"; geometries: Shape[] };

/** A search; parts names the property "part" of derived features, of whose outlines only those count that the place lies in. */
interface Search {
  lon: number;
  lat: number;
  within: number;
  parts: string[];
}

/** How many features one search returns. */
const most = 20;
const radius = 6378137;

/** The features within some meters of a place: points first, then lines, then outlines, each nearest first; count is how many there are. */
export function nearOf(all: KeptFeature[], s: Search): { features: KeptFeature[]; count: number } {
  const scale = [(radius * Math.cos((s.lat * Math.PI) / 180) * Math.PI) / 180, (radius * Math.PI) / 180] as const;
  const flat = ([lon = 0, lat = 0]: Position): Position => [(lon - s.lon) * scale[0], (lat - s.lat) * scale[1]];
  const found: { at: number; rank: number; meters: number }[] = [];
  all.forEach((f, at) => {
    if (!f.geometry || (s.parts.length > 0 && !s.parts.includes(String(f.properties?.["part"])))) return;
    const { rank, meters } = distance(f.geometry, flat);
    if (meters <= s.within && !(s.parts.length > 0 && rank === 2 && meters > 0)) found.push({ at, rank, meters });
  });
  found.sort((a, b) => a.rank - b.rank || a.meters - b.meters || a.at - b.at);
  const features = found.slice(0, most).flatMap(({ at }) => all[at] ?? []);
  return { features: s.parts.length > 0 ? features.map((f) => ({ ...f, geometry: null })) : features, count: found.length };
}

type Flat = (p: Position) => Position;

function distance(g: Shape, flat: Flat): { rank: number; meters: number } {
  const nearest = (parts: { rank: number; meters: number }[]) =>
    parts.reduce((a, b) => (b.rank < a.rank || (b.rank === a.rank && b.meters < a.meters) ? b : a), { rank: 3, meters: Infinity });
  switch (g.type) {
    case "Point": return { rank: 0, meters: Math.hypot(...flat(g.coordinates)) };
    case "MultiPoint": return nearest(g.coordinates.map((c) => distance({ type: "Point", coordinates: c }, flat)));
    case "LineString": return { rank: 1, meters: toLine(g.coordinates.map(flat)) };
    case "MultiLineString": return nearest(g.coordinates.map((c) => distance({ type: "LineString", coordinates: c }, flat)));
    case "Polygon": return { rank: 2, meters: toOutline(g.coordinates.map((ring) => ring.map(flat))) };
    case "MultiPolygon": return nearest(g.coordinates.map((c) => distance({ type: "Polygon", coordinates: c }, flat)));
    case "GeometryCollection": return nearest(g.geometries.map((one) => distance(one, flat)));
  }
}

/** From the origin to a line. */
function toLine(line: Position[]): number {
  let least = line[0] ? Math.hypot(...line[0]) : Infinity;
  for (let i = 1; i < line.length; i++) {
    const [[ax = 0, ay = 0] = [], [bx = 0, by = 0] = []] = [line[i - 1], line[i]];
    const [dx, dy] = [bx - ax, by - ay];
    const t = Math.max(0, Math.min(1, -(ax * dx + ay * dy) / (dx * dx + dy * dy || 1)));
    least = Math.min(least, Math.hypot(ax + t * dx, ay + t * dy));
  }
  return least;
}

/** From the origin to an outline with holes; 0 inside. */
function toOutline(rings: Position[][]): number {
  let inside = false;
  for (const ring of rings) {
    for (let i = 1; i < ring.length; i++) {
      const [[ax = 0, ay = 0] = [], [bx = 0, by = 0] = []] = [ring[i - 1], ring[i]];
      if (ay > 0 !== by > 0 && (bx - ax) * (-ay / (by - ay)) + ax > 0) inside = !inside;
    }
  }
  return inside ? 0 : Math.min(...rings.map(toLine));
}
