// The sheet to go to a place by its coordinates, and to read those of the map.
import Feature from "ol/Feature";
import { containsCoordinate, type Extent, getCenter } from "ol/extent";
import Point from "ol/geom/Point";
import { fromLonLat, toLonLat, transformExtent } from "ol/proj";
import { type CoordinateForm, coordinateForms, coordinateText, examples, parseCoordinates } from "../coords/coordinates";
import { compassName, inverse, type LonLat } from "../coords/geodesic";
import type { Reading } from "../coords/reading";
import { make, makeButton } from "../lib/dom";
import { getStored, setStored } from "../lib/storage";
import { distanceText, type Units } from "../lib/units";
import { say } from "../lib/words";
import type { MapView } from "../map/mapview";
import type { Page, Sheet } from "../shell/sheet";
import type { Toast } from "../shell/toast";
import "./goto.css";

/** What the sheet needs to know of an open pack. */
interface GoToContext {
  mapView: MapView;
  sheet: Sheet;
  toast: Toast;
  units: Units;
  /** the ground of the job, in Web Mercator */
  job: Extent;
  /** where the pack has a picture, in Web Mercator */
  picture: Extent;
}

export interface GoTo {
  page: Page;
  /** A place in the form that was chosen. */
  words(place: LonLat): string;
  /** Keeps the place that was tapped last. */
  tapped(place: LonLat): void;
}

const kept = "coordinates";

/** The form that was chosen on this device. */
const form = (): CoordinateForm => coordinateForms.find((f) => f.form === getStored(kept))?.form ?? "dd";

export function makeGoTo(ground: GoToContext): GoTo {
  let tapped: LonLat | null = null;
  const words = (p: LonLat) => coordinateText(form(), p[1], p[0]);
  return {
    words,
    tapped: (place) => {
      tapped = place;
    },
    page: { title: say("place.title"), body: () => [...inputForm(ground), ...coordinateList(ground, () => tapped)] },
  };
}

/** How far and in which direction a place lies from an extent, null when it lies in it: "2.3 mi", "northeast". */
function offsetFrom(place: LonLat, box: Extent, units: Units): { far: string; direction: string } | null {
  const at = fromLonLat(place);
  if (containsCoordinate(box, at)) return null;
  const [west = 0, south = 0, east = 0, north = 0] = transformExtent(box, "EPSG:3857", "EPSG:4326");
  const nearest: LonLat = [Math.min(east, Math.max(west, place[0])), Math.min(north, Math.max(south, place[1]))];
  const { metres } = inverse(nearest, place);
  const { bearing } = inverse(toLonLat(getCenter(box)) as LonLat, place);
  return { far: distanceText(metres, units), direction: compassName(bearing) };
}

function inputForm(ground: GoToContext): Node[] {
  const input = make("input", "");
  Object.assign(input, { id: "place-typed", type: "text", autocomplete: "off", spellcheck: false, enterKeyHint: "go" });
  input.setAttribute("autocapitalize", "characters");
  input.setAttribute("aria-describedby", "place-examples");
  const label = make("label", "", say("place.go"));
  label.htmlFor = input.id;
  const told = make("div", "understood");
  told.setAttribute("role", "status");
  const hint = make("p", "hint", say("place.hint", { examples }));
  hint.id = "place-examples";
  const form = make("form", "typing", label, input, told, hint);
  input.addEventListener("input", () => told.replaceChildren(...interpretations(ground, input.value)));
  form.addEventListener("submit", (e) => {
    e.preventDefault();
    const found = parseCoordinates(input.value);
    if (typeof found !== "string" && found[0]) go(ground, best(ground, found)[0] as Reading);
  });
  return [form];
}

/** The readings whose place is in the picture come first. */
function best(ground: GoToContext, found: Reading[]): Reading[] {
  const off = (r: Reading) => (containsCoordinate(ground.picture, fromLonLat([r.lon, r.lat])) ? 0 : 1);
  return [...found].sort((a, b) => off(a) - off(b));
}

// Says what was understood, and where that is, before anything moves.
function interpretations(ground: GoToContext, typed: string): Node[] {
  const found = parseCoordinates(typed);
  if (typeof found === "string") return found === "" ? [] : [make("p", "fault", found)];
  return best(ground, found).map((r) => {
    const off = offsetFrom([r.lon, r.lat], ground.picture, ground.units);
    const job = offsetFrom([r.lon, r.lat], ground.job, ground.units);
    const where = off !== null ? say("place.off_picture", { far: off.far, direction: off.direction })
      : job === null ? say("place.on_job") : say("place.off_job", { far: job.far, direction: job.direction });
    const b = makeButton([make("b", "", r.words), make("span", "", where)], () => go(ground, r));
    b.disabled = off !== null;
    return b;
  });
}

function go({ mapView, sheet, toast, picture }: GoToContext, r: Reading): void {
  const center = fromLonLat([r.lon, r.lat]);
  if (!containsCoordinate(picture, center)) return;
  sheet.close();
  mapView.view.setCenter(center);
  mapView.select([new Feature(new Point(center))]);
  // The ring stays when the words go, until somebody taps: one walks to it.
  toast.show([say("place.ring", { place: coordinateText(form(), r.lat, r.lon) }), say("place.ring_limit")], () => undefined);
}

function coordinateList(ground: GoToContext, tapped: () => LonLat | null): Node[] {
  const list = make("dl", "coordinates");
  const write = () => {
    const rows: [string, LonLat | null][] = [[say("place.middle"), toLonLat(ground.mapView.view.getCenter() ?? [0, 0]) as LonLat], [say("place.tapped"), tapped()]];
    list.replaceChildren(...rows.flatMap(([name, place]) => {
      if (place === null) return [];
      const text = coordinateText(form(), place[1], place[0]);
      return [make("dt", "", name), make("dd", "", make("span", "", text), copyButton(name, text))];
    }));
  };
  write();
  const choice = make("select", "");
  choice.id = "place-form";
  choice.append(...coordinateForms.map((f) => new Option(f.title, f.form, false, f.form === form())));
  choice.addEventListener("change", () => {
    setStored(kept, choice.value);
    write();
  });
  const label = make("label", "choice", say("place.shown_as"), choice);
  return [make("h3", "", say("place.map")), label, list];
}

function copyButton(name: string, text: string): HTMLElement {
  const b = makeButton([say("place.copy")], () => void copy(text).then((done) => {
    b.textContent = done ? say("place.copied") : say("place.hold");
  }));
  b.setAttribute("aria-label", say("place.copy_of", { name }));
  return b;
}

// Browsers give the clipboard to secure pages only; the older way works on any.
async function copy(text: string): Promise<boolean> {
  try {
    await navigator.clipboard.writeText(text);
    return true;
  } catch {
    const field = make("textarea", "unseen");
    field.value = text;
    document.body.append(field);
    field.select();
    const done = document.execCommand("copy");
    field.remove();
    return done;
  }
}
