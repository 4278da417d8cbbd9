// Parses and formats coordinates: degrees, degrees and minutes, degrees minutes seconds,
// UTM and MGRS, all on WGS 84.
import { say } from "../lib/words";
import { parseDegrees, type Reading } from "./degrees";
import { bandOf, isBand, isNorthernBand, parseMgrs, toMgrs } from "./mgrs";
import { fromUtm, inUtmRange, toUtm } from "./utm";

export type CoordinateForm = "dd" | "dm" | "dms" | "utm" | "mgrs";

/** The forms in which a position can be shown. */
export const coordinateForms: { form: CoordinateForm; title: string }[] = [
  { form: "dd", title: say("place.dd") },
  { form: "dm", title: say("place.dm") },
  { form: "dms", title: say("place.dms") },
  { form: "utm", title: say("place.utm") },
  { form: "mgrs", title: say("place.mgrs") },
];

/** Examples of input, in one line. */
export const examples = "40.01234, -105.01234 · 40°00.740′N 105°00.740′W · 40 0 44.4 N 105 0 44.4 W · 13N 498945 4429136 · 13TDE9894529136";

/** All interpretations of a text, the likeliest first; or an error message, "" for an empty text. */
export function parseCoordinates(typed: string): Reading[] | string {
  const text = typed.trim().slice(0, 200).toUpperCase().replace(/[−–]/g, "-");
  if (text === "") return "";
  return parseMgrsText(text) ?? parseUtmText(text) ?? parseDegrees(text);
}

function parseMgrsText(text: string): Reading[] | string | null {
  const m = /^(\d{1,2})([A-Z])([A-Z]{2})(\d*)$/.exec(text.replace(/^MGRS[\s:]*/, "").replace(/\s+/g, ""));
  if (!m) return null;
  const [, z = "", band = "", letters = "", digits = ""] = m;
  const zone = Number(z);
  const wrong = zoneError(zone) || (isBand(band) ? "" : say("place.no_band", { band }));
  if (wrong !== "") return say("place.as_mgrs", { wrong });
  const found = parseMgrs(zone, band, letters, digits);
  if (typeof found === "string") return say("place.as_mgrs", { wrong: found });
  const { corner, side } = found;
  const at = fromUtm({ ...corner, easting: corner.easting + side / 2, northing: corner.northing + side / 2 });
  const long = side >= 1000 ? `${side / 1000} km` : `${side} m`;
  const reference = `${zone}${band} ${letters} ${digits.slice(0, digits.length / 2)} ${digits.slice(digits.length / 2)}`.trim();
  return [{ ...at, words: say("place.mgrs_square", { reference, side: long }) }];
}

const zoneError = (zone: number) => (zone >= 1 && zone <= 60 ? "" : say("place.no_zone", { zone }));

const number = String.raw`(\d+(?:\.\d+)?)\s*M?\s*([EN]?)`;
const zoneFirst = new RegExp(String.raw`^(?:UTM)?\s*(?:ZONE)?\s*(\d{1,2})\s*(NORTH|SOUTH|[A-Z])[\s,;:]+${number}[\s,;]+${number}$`);
const zoneLast = new RegExp(String.raw`^(?:UTM)?\s*${number}[\s,;]+${number}[\s,;]+(?:ZONE)?\s*(\d{1,2})\s*(NORTH|SOUTH|[A-Z])$`);

function parseUtmText(text: string): Reading[] | string | null {
  const bare = text.replace(/(\d),(?=\d{3}(\D|$))/g, "$1"); // 4,429,136
  const a = zoneFirst.exec(bare);
  const b = a ? null : zoneLast.exec(bare);
  const [z, letter, n1, s1, n2, s2] = a ? a.slice(1) : b ? [b[5], b[6], b[1], b[2], b[3], b[4]] : [];
  if (z === undefined || letter === undefined || n1 === undefined || n2 === undefined) return null;
  const swapped = s1 === "N" || s2 === "E";
  const [easting, northing] = (swapped ? [n2, n1] : [n1, n2]).map(Number) as [number, number];
  if (Math.max(easting, northing) < 1000) return null; // degrees with a letter
  const zone = Number(z);
  const wrong = zoneError(zone) ||
    (easting < 100_000 || easting > 900_000 ? say("place.easting", { length: metres(easting) }) : "") ||
    (northing > 10_000_000 ? say("place.northing", { length: metres(northing) }) : "");
  if (wrong !== "") return say("place.as_utm", { wrong });
  const halves = hemispheresOf(letter);
  if (halves.length === 0) return say("place.as_utm", { wrong: say("place.no_band", { band: letter }) });
  const [long, high] = [metres(easting), metres(northing)];
  const all = halves.map((north) => ({
    ...fromUtm({ zone, north, easting, northing }),
    words: north ? say("place.utm_north", { zone, east: long, north: high }) : say("place.utm_south", { zone, east: long, north: high }),
  }));
  return all.some((r) => inUtmRange(r.lat)) ? all.filter((r) => inUtmRange(r.lat)) : say("place.as_utm", { wrong: say("place.beyond_utm") });
}

/** The hemispheres a letter may mean, true for north: S is a northern band and "south". */
function hemispheresOf(letter: string): boolean[] {
  if (letter.length > 1) return [letter === "NORTH"];
  if (letter === "S") return [true, false];
  return isBand(letter) ? [isNorthernBand(letter)] : [];
}

const metres = (v: number) => `${v.toLocaleString("en", { maximumFractionDigits: 3 })} m`;

/** A position as text: to a centimeter in degrees and minutes, a decimeter in UTM, a meter in MGRS. */
export function coordinateText(form: CoordinateForm, lat: number, lon: number): string {
  switch (form) {
    case "dd": return say("place.shown_dd", { lat: lat.toFixed(7), lon: lon.toFixed(7) });
    case "dm": return `${minutes(lat, "N", "S")} ${minutes(lon, "E", "W")}`;
    case "dms": return `${seconds(lat, "N", "S")} ${seconds(lon, "E", "W")}`;
    case "utm": {
      if (!inUtmRange(lat)) return say("place.no_utm");
      const u = toUtm(lat, lon);
      return `${u.zone}${bandOf(lat)} ${u.easting.toFixed(1)} E ${u.northing.toFixed(1)} N`;
    }
    case "mgrs": return toMgrs(lat, lon) || say("place.no_mgrs");
  }
}

function minutes(v: number, plus: string, minus: string): string {
  const all = Math.round(Math.abs(v) * 60 * 1e5); // 0.00001 minute is 2 cm
  const deg = Math.floor(all / 6e6);
  return `${deg}°${((all - deg * 6e6) / 1e5).toFixed(5).padStart(8, "0")}′${v < 0 ? minus : plus}`;
}

function seconds(v: number, plus: string, minus: string): string {
  const all = Math.round(Math.abs(v) * 3600 * 1e4); // 0.0001 second is 3 mm
  const deg = Math.floor(all / 3.6e7);
  const min = Math.floor((all - deg * 3.6e7) / 6e5);
  const sec = (all - deg * 3.6e7 - min * 6e5) / 1e4;
  return `${deg}°${String(min).padStart(2, "0")}′${sec.toFixed(4).padStart(7, "0")}″${v < 0 ? minus : plus}`;
}
