// A tap on the map: the sheet about what lies there.
import Feature from "ol/Feature";
import type { Coordinate } from "ol/coordinate";
import Point from "ol/geom/Point";
import { toLonLat } from "ol/proj";
import type { LonLat } from "../../shared/coords/geodesic";
import { errorMessage } from "../../shared/lib/http";
import { say } from "../../shared/lib/words";
import { isOn, isTiled, pointsFirst, type RecordLayer } from "../../shared/records/layer";
import type { NearbyRecords } from "../../shared/records/tiled";
import { derivedDetails } from "../../shared/sheets/deriveddetails";
import { recordDetails } from "../../shared/sheets/recorddetails";
import type { Session } from "./parts";

/** Gives the function that opens the sheet about a place. */
export function makeInspector(session: Session): (pixel: number[], place: Coordinate) => void {
  const { about, errorBar, goTo, mapView, records, sheet, toast } = session;
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
    const hits = pointsFirst([...drawn, ...near.hits]);
    if (hits.length + computed.length === 0) {
      sheet.close();
      mapView.select([new Feature(new Point(place))]);
      toast.show([emptyText(layers), goTo.words(lonLat)], () => mapView.select([]));
      mapView.reveal(place);
      return;
    }
    mapView.select(hits.map((h) => h.feature));
    const isCrossing = (f: Feature) => f.get("part") === "crossing";
    const crossings = computed.filter(isCrossing);
    const rest = computed.filter((f) => !isCrossing(f));
    const details = (list: Feature[]) => derivedDetails(list, layers, about.units, about.tolerance?.rule ?? "");
    const count = drawn.length + near.matched + crossings.length;
    sheet.open({
      title: count > 1 ? say("here.records", { n: count }) : say("here.one"),
      body: () => [...details(crossings), ...recordDetails(hits, about.units), ...details(rest)],
    });
    mapView.reveal(place);
  };
  return (pixel, place) => void inspect(pixel, place);
}

/** A record that is off or not loaded may well lie here: then nothing is said about the pack. */
function emptyText(layers: RecordLayer[]): string {
  const unseen = layers.filter((l) => !isOn(l) || l.fault !== "").length;
  return unseen === 0 ? say("here.nothing") : say("here.unseen", { n: unseen });
}
