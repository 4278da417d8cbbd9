// The Military Grid Reference System over UTM: a zone, a band of latitude, a
// square of 100 km, and digits within it. Source: NGA.STND.0037, 2014, chapter 3.
import { say } from "../lib/words";
import { fromUtm, inUtmRange, toUtm, type Utm } from "./utm";

/** The bands of latitude from 80° south on, eight degrees each, the last twelve. */
const bands = "CDEFGHJKLMNPQRSTUVWX";
const columns = ["ABCDEFGH", "JKLMNPQR", "STUVWXYZ"];
const rows = "ABCDEFGHJKLMNPQRSTUV";
const squareSize = 100_000;

/** The band letter of a latitude in the range of UTM. */
export function bandOf(lat: number): string {
  return bands[Math.min(bands.length - 1, Math.floor((lat + 80) / 8))] ?? "";
}

/** Whether a band is in the northern hemisphere. */
export const isNorthernBand = (band: string): boolean => band >= "N";
/** Whether a letter is that of a band. */
export const isBand = (letter: string): boolean => letter.length === 1 && bands.includes(letter);

/** The reference of a position, to a meter: "13S ED 12345 67890"; "" outside the range of UTM. */
export function toMgrs(lat: number, lon: number): string {
  if (!inUtmRange(lat)) return "";
  const { zone, easting, northing } = toUtm(lat, lon);
  const column = columns[(zone - 1) % 3]?.[Math.floor(easting / squareSize) - 1] ?? "";
  const row = rows[(Math.floor(northing / squareSize) + (zone % 2 === 0 ? 5 : 0)) % 20] ?? "";
  const digits = (v: number) => String(Math.floor(v % squareSize)).padStart(5, "0"); // truncated, never rounded: 3.4
  return `${zone}${bandOf(lat)} ${column}${row} ${digits(easting)} ${digits(northing)}`;
}

/** The square of a reference, or an error message. */
export function parseMgrs(zone: number, band: string, letters: string, digits: string): { corner: Utm; side: number } | string {
  const half = digits.length / 2;
  if (digits.length % 2 !== 0) return say("place.odd_digits");
  if (half > 5) return say("place.many_digits");
  const column = columns[(zone - 1) % 3]?.indexOf(letters[0] ?? "") ?? -1;
  if (column < 0) return say("place.no_column", { zone, letter: letters[0] ?? "" });
  const row = rows.indexOf(letters[1] ?? "");
  if (row < 0) return say("place.no_row", { letter: letters[1] ?? "" });
  const side = 10 ** (5 - half);
  const north = isNorthernBand(band);
  const south = bands.indexOf(band) * 8 - 80;
  const middle = toUtm(south + 4, zone * 6 - 183).northing;
  // Row letters repeat every 2,000 km; a band is less than half as high.
  const first = ((row - (zone % 2 === 0 ? 5 : 0) + 20) % 20) * squareSize;
  const northing = first + Math.round((middle - first - squareSize / 2) / 2_000_000) * 2_000_000;
  const corner = {
    zone, north, easting: (column + 1) * squareSize + Number(digits.slice(0, half) || 0) * side,
    northing: northing + Number(digits.slice(half) || 0) * side,
  };
  const top = band === "X" ? 84 : south + 8;
  const { lat } = fromUtm({ ...corner, easting: corner.easting + side / 2, northing: corner.northing + side / 2 });
  if (lat < south - 1 || lat > top + 1) return say("place.no_row_in_band", { band, letter: letters[1] ?? "", zone });
  return { corner, side };
}
