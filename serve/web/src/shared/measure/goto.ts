// The sheet to go to coordinates, and to read those of the map.
import Feature from "ol/Feature";
import { containsCoordinate, type Extent, getCenter } from "ol/extent";
import Point from "ol/geom/Point";
import { fromLonLat, toLonLat, transformExtent } from "ol/proj";
import { type CoordinateForm, coordinateForms, coordinateText, examples, parseCoordinates } from "../coords/coordinates";
import type { Reading } from "../coords/degrees";
import { compassName, inverse, type LonLat } from "../coords/geodesic";
import { make, makeButton } from "../lib/dom";
import { getStored, setStored } from "../lib/storage";
import { distanceText, type Units } from "../lib/units";
import { say } from "../lib/words";
import type { MapView } from "../map/mapview";
import type { Page, Sheet } from "../shell/sheet";
import type { Toast } from "../shell/toast";
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
    page: { title: say("place.title"), body: () => [...inputForm(context), ...coordinateList(context, () => tapped)] },
  };
}

/** Distance and direction of a position from an extent, "2.3 mi", "northeast"; null inside it. */
function offsetFrom(place: LonLat, box: Extent, units: Units): { far: string; direction: string } | null {
  const at = fromLonLat(place);
  if (containsCoordinate(box, at)) return null;
  const [west = 0, south = 0, east = 0, north = 0] = transformExtent(box, "EPSG:3857", "EPSG:4326");
  const nearest: LonLat = [Math.min(east, Math.max(west, place[0])), Math.min(north, Math.max(south, place[1]))];
  const { metres } = inverse(nearest, place);
  const { bearing } = inverse(toLonLat(getCenter(box)) as LonLat, place);
  return { far: distanceText(metres, units), direction: compassName(bearing) };
}

function inputForm(context: GoToContext): Node[] {
  const input = make("input", "");
  Object.assign(input, { id: "place-typed", type: "text", autocomplete: "off", spellcheck: false, enterKeyHint: "go" });
  input.setAttribute("autocapitalize", "characters");
  input.setAttribute("aria-describedby", "place-examples");
  const label = make("label", "", say("place.go"));
  label.htmlFor = input.id;
  const understood = make("div", "understood");
  understood.setAttribute("role", "status");
  const hint = make("p", "hint", say("place.hint", { examples }));
  hint.id = "place-examples";
  const form = make("form", "typing", label, input, understood, hint);
  input.addEventListener("input", () => understood.replaceChildren(...interpretations(context, input.value)));
  form.addEventListener("submit", (e) => {
    e.preventDefault();
    const found = parseCoordinates(input.value);
    if (typeof found !== "string" && found[0]) go(context, best(context, found)[0] as Reading);
  });
  return [form];
}

/** Readings inside the picture come first. */
function best(context: GoToContext, found: Reading[]): Reading[] {
  const off = (r: Reading) => (containsCoordinate(context.picture, fromLonLat([r.lon, r.lat])) ? 0 : 1);
  return [...found].sort((a, b) => off(a) - off(b));
}

// Shows each interpretation and where it lies, before the map moves.
function interpretations(context: GoToContext, typed: string): Node[] {
  const found = parseCoordinates(typed);
  if (typeof found === "string") return found === "" ? [] : [make("p", "fault", found)];
  return best(context, found).map((r) => {
    const off = offsetFrom([r.lon, r.lat], context.picture, context.units);
    const job = offsetFrom([r.lon, r.lat], context.job, context.units);
    const where = off !== null ? say("place.off_picture", { far: off.far, direction: off.direction })
      : job === null ? say("place.on_job") : say("place.off_job", { far: job.far, direction: job.direction });
    const b = makeButton([make("b", "", r.words), make("span", "", where)], () => go(context, r));
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
  // The ring stays after the toast, until the next tap: the user walks to it.
  toast.show([say("place.ring", { place: coordinateText(form(), r.lat, r.lon) }), say("place.ring_limit")], () => undefined);
}

function coordinateList(context: GoToContext, tapped: () => LonLat | null): Node[] {
  const list = make("dl", "coordinates");
  const write = () => {
    const rows: [string, LonLat | null][] = [[say("place.middle"), toLonLat(context.mapView.view.getCenter() ?? [0, 0]) as LonLat], [say("place.tapped"), tapped()]];
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
    setStored(storedForm, choice.value);
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

// The clipboard API needs a secure page; execCommand works on any.
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
