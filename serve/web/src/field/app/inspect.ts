// A tap on the map: the sheet about what lies there.
import Feature from "ol/Feature";
import type { Coordinate } from "ol/coordinate";
import Point from "ol/geom/Point";
import { getPointResolution, toLonLat } from "ol/proj";
import type { LonLat } from "../../shared/coords/geodesic";
import { make, makeButton } from "../../shared/lib/dom";
import { errorMessage } from "../../shared/lib/http";
import { say } from "../../shared/lib/words";
import { isOn, isTiled, pointsFirst, type RecordLayer } from "../../shared/records/layer";
import type { NearbyRecords } from "../../shared/records/tiled";
import { distanceText, focusLast, type Found, foundDerived, foundList, foundRecord, foundTitle, nearestFirst } from "../../shared/sheets/found";
import type { Session } from "./parts";

/** Gives the function that opens the sheet about a place. */
export function makeInspector(session: Session): (pixel: number[], place: Coordinate) => void {
  const { about, added, errorBar, goTo, mapView, records, sheet, toast } = session;
  const { layers, derived, tiled, tiledDerived } = records;
  let taps = 0;
  const inspect = async (pixel: number[], place: Coordinate): Promise<void> => {
    if (document.body.classList.contains("measuring")) return;
    const lonLat = toLonLat(place) as LonLat;
    goTo.tapped(lonLat);
    const tap = ++taps; // a later tap cancels a response that is still on its way
    const drawn = mapView.recordsAt(pixel, layers.filter((l) => !isTiled(l)));
    const computed = mapView.featuresAt(pixel, [...derived.layers].reverse().filter((l) => !l.content).map((l) => l.layer));
    toast.hide();
    let near: NearbyRecords = { hits: [], matched: 0 };
    try {
      const resolution = mapView.view.getResolution() ?? 1;
      const [tiledHits, tiledFeatures] = await Promise.all([tiled.near(place, resolution), tiledDerived?.near(place, resolution) ?? []]);
      near = tiledHits;
      computed.push(...tiledFeatures);
    } catch (e) {
      errorBar.show(errorMessage(e), () => void inspect(pixel, place));
      if (drawn.length + computed.length === 0) return; // what lies here is not known
    }
    if (tap !== taps) return;
    const now = new Date();
    const marks = added.found(pixel);
    const hits = [...marks, ...nearestFirst(pointsFirst([...drawn, ...near.hits]).map((h) => foundRecord(h, about.units, now)), place)];
    if (hits.length + computed.length === 0) {
      sheet.close();
      mapView.select([new Feature(new Point(place))]);
      toast.show([emptyText(layers), goTo.words(lonLat)], () => mapView.select([]));
      mapView.reveal(place);
      return;
    }
    const worked = computed.map((f) => foundDerived(f, layers, about.units, about.tolerance?.rule ?? ""));
    showFound(session, { hits, worked, count: marks.length + drawn.length + near.matched, place });
    mapView.reveal(place);
  };
  return (pixel, place) => void inspect(pixel, place);
}

/** What a tap found. */
interface Tapped {
  hits: Found[];
  worked: Found[];
  /** how many records there are, which may be more than `hits` */
  count: number;
  place: Coordinate;
}

/** One record with the zone and the flag that belong to it is told at once; several are a list to choose from. */
function showFound({ about, mapView, sheet }: Session, { hits, worked, count, place }: Tapped): void {
  const all = [...hits, ...worked];
  const marked = all.map((one) => one.feature);
  const pairs = worked.some((one) => one.feature.get("part") === "crossing" || one.feature.get("part") === "beside");
  if (all.length === 1 || (count === 1 && hits.length === 1 && !pairs)) {
    mapView.select(marked.slice(0, 1));
    return sheet.open({ title: all[0]?.recorded === true ? say("here.one") : say("layers.worked_out"), body: () => all.map((one) => one.details()) });
  }
  const back = () => {
    mapView.select([], marked);
    sheet.open(list);
    focusLast();
  };
  const choose = (one: Found) => {
    last = one;
    mapView.select([one.feature], marked);
    sheet.open({
      title: one.recorded ? say("here.one") : say("layers.worked_out"),
      body: () => [make("div", "back", makeButton([say("here.back", { n: all.length })], back)), one.details()],
    });
  };
  let last: Found | null = null;
  const pixel = getPointResolution("EPSG:3857", mapView.view.getResolution() ?? 0, place, "m");
  const options = { aside: (one: Found) => distanceText(one, place, about.units, pixel), isLast: (one: Found) => one === last };
  const list = {
    title: count > 0 ? foundTitle(hits, count, place) : say("layers.worked_out"),
    body: () => [
      foundList(hits, choose, options),
      ...(count > hits.length ? [make("p", "", say("here.more", { n: count - hits.length }))] : []),
      ...(worked.length > 0 && hits.length > 0 ? [make("h3", "", say("layers.worked_out"))] : []),
      foundList(worked, choose, options),
    ],
  };
  back();
}

/** A record that is off or not loaded may well lie here: then nothing is said about the pack. */
function emptyText(layers: RecordLayer[]): string {
  const unseen = layers.filter((l) => !isOn(l) || l.fault !== "").length;
  return unseen === 0 ? say("here.nothing") : say("here.unseen", { n: unseen });
}
