// A form for a typed place.
import { containsCoordinate, type Extent, getCenter } from "ol/extent";
import { fromLonLat, toLonLat, transformExtent } from "ol/proj";
import { examples, parseCoordinates } from "../coords/coordinates";
import type { Reading } from "../coords/degrees";
import { compassName, inverse, type LonLat } from "../coords/geodesic";
import { make, makeButton } from "../lib/dom";
import { distanceText, type Units } from "../lib/units";
import { say } from "../lib/words";
import "./placeinput.css";

/** What the form needs to know. */
interface PlaceContext {
  label: string;
  units: Units;
  /** the extent of the job, in Web Mercator */
  job: Extent;
  /** where the pack has a picture, in Web Mercator */
  picture: Extent;
  /** Runs for the chosen interpretation, which lies on the picture. */
  choose(r: Reading): void;
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

/** A form for a typed place. It shows each interpretation and where it lies, before anything happens. */
export function placeInput(context: PlaceContext): HTMLElement {
  const input = make("input", "");
  Object.assign(input, { id: "place-typed", type: "text", autocomplete: "off", spellcheck: false, enterKeyHint: "go" });
  input.setAttribute("autocapitalize", "characters");
  input.setAttribute("aria-describedby", "place-examples");
  const label = make("label", "", context.label);
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
    const [likeliest] = typeof found === "string" ? [] : best(context, found);
    if (likeliest !== undefined && pictured(context, likeliest)) context.choose(likeliest);
  });
  return form;
}

const pictured = ({ picture }: PlaceContext, r: Reading): boolean => containsCoordinate(picture, fromLonLat([r.lon, r.lat]));

/** Readings inside the picture come first. */
function best(context: PlaceContext, found: Reading[]): Reading[] {
  return [...found].sort((a, b) => Number(pictured(context, b)) - Number(pictured(context, a)));
}

function interpretations(context: PlaceContext, typed: string): Node[] {
  const found = parseCoordinates(typed);
  if (typeof found === "string") return found === "" ? [] : [make("p", "fault", found)];
  return best(context, found).map((r) => {
    const off = offsetFrom([r.lon, r.lat], context.picture, context.units);
    const job = offsetFrom([r.lon, r.lat], context.job, context.units);
    const where = off !== null ? say("place.off_picture", { far: off.far, direction: off.direction })
      : job === null ? say("place.on_job") : say("place.off_job", { far: job.far, direction: job.direction });
    const b = makeButton([make("b", "", r.words), make("span", "", where)], () => context.choose(r));
    b.disabled = off !== null;
    return b;
  });
}
