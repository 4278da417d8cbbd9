// The sheet to go to coordinates, and to read those of the map.
import Feature from "ol/Feature";
import { containsCoordinate, type Extent } from "ol/extent";
import Point from "ol/geom/Point";
import { fromLonLat, toLonLat } from "ol/proj";
import { type CoordinateForm, coordinateForms, coordinateText } from "../coords/coordinates";
import type { Reading } from "../coords/degrees";
import type { LonLat } from "../coords/geodesic";
import { make } from "../lib/dom";
import { getStored, setStored } from "../lib/storage";
import type { Units } from "../lib/units";
import { say } from "../lib/words";
import type { MapView } from "../map/mapview";
import type { Page, Sheet } from "../shell/sheet";
import type { Toast } from "../shell/toast";
import { copyButton } from "./copybutton";
import { placeInput } from "./placeinput";
import "./goto.css";

/** What the sheet needs of an open pack. */
interface GoToContext {
  mapView: MapView;
  sheet: Sheet;
  toast: Toast;
  units: Units;
  /** the extent of the job, in Web Mercator */
  job: Extent;
  /** where the pack has a picture, in Web Mercator */
  picture: Extent;
}

export interface GoTo {
  page: Page;
  /** A position in the chosen form. */
  words(place: LonLat): string;
  /** Sets the last tapped position. */
  tapped(place: LonLat): void;
}

const storedForm = "coordinates";
/** The form chosen on this device. */
const form = (): CoordinateForm => coordinateForms.find((f) => f.form === getStored(storedForm))?.form ?? "dd";

export function makeGoTo(context: GoToContext): GoTo {
  let tapped: LonLat | null = null;
  const words = (p: LonLat) => coordinateText(form(), p[1], p[0]);
  return {
    words,
    tapped: (place) => { tapped = place; },
    page: { title: say("place.title"), body: () => [placeInput({ ...context, label: say("place.go"), choose: (r) => go(context, r) }), ...coordinateList(context, () => tapped)] },
  };
}

function go({ mapView, sheet, toast }: GoToContext, r: Reading): void {
  const center = fromLonLat([r.lon, r.lat]);
  sheet.close();
  mapView.view.setCenter(center);
  mapView.select([new Feature(new Point(center))]);
  // The ring stays after the toast, until the next tap: the user walks to it. Words about it go when it is out of sight.
  const follow = () => {
    if (!containsCoordinate(mapView.view.calculateExtent(), center)) toast.hide();
  };
  toast.show([say("place.ring", { place: coordinateText(form(), r.lat, r.lon) }), say("place.ring_limit")], () => mapView.view.un("change", follow));
  mapView.view.on("change", follow);
}

function coordinateList(context: GoToContext, tapped: () => LonLat | null): Node[] {
  const list = make("dl", "coordinates");
  const write = () => {
    const rows: [string, LonLat | null][] = [[say("place.middle"), toLonLat(context.mapView.view.getCenter() ?? [0, 0]) as LonLat], [say("place.tapped"), tapped()]];
    list.replaceChildren(...rows.flatMap(([name, place]) => {
      if (place === null) return [];
      const text = coordinateText(form(), place[1], place[0]);
      return [make("dt", "", name), make("dd", "", make("span", "", text), copyButton(name, () => text))];
    }));
  };
  write();
  const choice = make("select", "");
  choice.id = "place-form";
  choice.append(...coordinateForms.map((f) => new Option(f.title, f.form, false, f.form === form())));
  choice.addEventListener("change", () => {
    setStored(storedForm, choice.value);
    write();
  });
  const label = make("label", "choice", say("place.shown_as"), choice);
  return [make("h3", "", say("place.map")), label, list];
}
