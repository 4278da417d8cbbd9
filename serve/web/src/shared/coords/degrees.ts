// Parses latitude and longitude, with or without marks and letters.
import { say } from "../lib/words";

/** One interpretation of typed coordinates, on WGS 84. */
export interface Reading {
  lat: number;
  lon: number;
  /** the interpretation, as a sentence */
  words: string;
}

interface Part {
  /** degrees, and minutes and seconds where stated */
  numbers: number[];
  negative: boolean;
  /** N, S, E or W; "" for none */
  side: string;
  /** by a word before it: "A" for a latitude, "O" for a longitude; "" for none */
  named: string;
}

const token = /([NSEW])|(LATITUDE|LAT)|(LONGITUDE|LONG|LON)|([+-]?\d+(?:\.\d+)?|[+-]?\.\d+)\s*([°′″]?)|([,;/])|([:=\s]+)|(.)/gy;

/** Unifies the many marks for degrees, minutes and seconds. */
function normalizeMarks(text: string): string {
  return text.replace(/^GEO:/, "")
    .replace(/NORTH/g, "N").replace(/SOUTH/g, "S").replace(/EAST/g, "E").replace(/WEST/g, "W")
    .replace(/DEGREES?|DEG\.?|[º˚]/g, "°").replace(/MINUTES?|MIN\.?/g, "′").replace(/SECONDS?|SEC\.?/g, "″")
    .replace(/''|´´|[“”"]/g, "″").replace(/['’‘´`]/g, "′")
    .replace(/(\d)\s*D(?=[\s\d.])/g, "$1°").replace(/(\d)\s*M(?=[\s\d.NSEW])/g, "$1′").replace(/(′\s*[\d.]+)\s*S(?=\s*[NSEW])/g, "$1″");
}

/** Replaces decimal commas by points; null where commas are ambiguous. */
function normalizeDecimals(text: string): string | null {
  const commas = text.match(/\d,(?=\d)/g)?.length ?? 0;
  if (commas < 2) return text;
  if (commas > 2 || text.includes(".")) return null;
  return text.replace(/(\d),(?=\d)/g, "$1.");
}

/** All interpretations of a text as latitude and longitude, or an error message. */
export function parseDegrees(text: string): Reading[] | string {
  const lettered = /[NSEW]/.test(text) ? text.replace(/(\d)-(?=\d)/g, "$1 ") : text; // 40-00-44.4N
  const bare = normalizeDecimals(normalizeMarks(lettered));
  if (bare === null) return say("place.commas");
  const parts = splitParts(bare);
  if (typeof parts === "string") return parts;
  const [first, second] = parts;
  for (const p of parts) {
    const wrong = partError(p);
    if (wrong !== "") return wrong;
  }
  if (isLon(first) && isLon(second) || isLat(first) && isLat(second)) return say("place.same");
  // Latitude comes first unless letters, words or size say otherwise.
  const turned = isLon(first) || isLat(second) || (!isLat(first) && !isLon(second) && Math.abs(signedDegrees(first)) > 90);
  const [lat, lon] = turned ? [second, first] : [first, second];
  const unsaid = first.side + second.side + first.named + second.named === "";
  return readings(lat, lon, !unsaid ? "stated" : turned ? "lon" : "lat");
}

function readings(lat: Part, lon: Part, first: "stated" | "lat" | "lon"): Reading[] | string {
  const [y, x] = [signedDegrees(lat), signedDegrees(lon)];
  if (Math.abs(y) > 90) return say("place.max_lat", { degrees: Math.abs(y) });
  if (Math.abs(x) > 180) return say("place.max_lon", { degrees: Math.abs(x) });
  const there = y < 0 ? say("place.s", { degrees: short(y) }) : say("place.n", { degrees: short(y) });
  const words = first === "lat" ? say("place.read_lat_first", { lat: there, lon: lonText(x) })
    : first === "lon" ? say("place.read_lon_first", { lat: there, lon: lonText(x) }) : say("place.read", { lat: there, lon: lonText(x) });
  const all: Reading[] = [{ lat: y, lon: x, words }];
  // In the west, people omit the minus or the W.
  if (lon.side === "" && !lon.negative && x > 0) all.push({ lat: y, lon: -x, words: say("place.read_west", { lat: there, lon: lonText(-x) }) });
  return all;
}

const short = (v: number) => Number(Math.abs(v).toFixed(7));
const lonText = (v: number) => (v < 0 ? say("place.w", { degrees: short(v) }) : say("place.e", { degrees: short(v) }));
const isLat = (p: Part) => p.side === "N" || p.side === "S" || p.named === "A";
const isLon = (p: Part) => p.side === "E" || p.side === "W" || p.named === "O";

function signedDegrees(p: Part): number {
  const [d = 0, m = 0, s = 0] = p.numbers;
  return (d + m / 60 + s / 3600) * (p.negative || p.side === "S" || p.side === "W" ? -1 : 1);
}

const needed = say("place.needed");

function partError({ numbers, negative, side }: Part): string {
  if (numbers.length === 0 || numbers.length > 3) return needed;
  if (negative && side !== "") return say("place.twice", { letter: side });
  if (numbers.slice(0, -1).some((n) => !Number.isInteger(n))) return say("place.decimals");
  if (numbers.slice(1).some((n) => n >= 60)) return say("place.sixty");
  return "";
}

/** Splits a text into its two coordinates. */
function splitParts(text: string): [Part, Part] | string {
  if (!/\d/.test(text)) return needed;
  const found: Part[] = [];
  const fresh = (): Part => ({ numbers: [], negative: false, side: "", named: "" });
  let part = fresh();
  let marks = "";
  const next = () => {
    if (part.numbers.length > 0) found.push(part);
    if (part.numbers.length > 0 || part.side !== "") part = fresh();
    marks = "";
  };
  let before: boolean | null = null; // whether letters come before their numbers
  for (const [, side, lat, lon, number, mark, separator, , strange] of text.matchAll(token)) {
    if (strange !== undefined) return say("place.strange", { text: strange });
    if (side !== undefined) {
      before ??= part.numbers.length === 0;
      if (before) next();
      part.side = side;
      if (!before) next();
    } else if (lat !== undefined || lon !== undefined) {
      next();
      part.named = lat !== undefined ? "A" : "O";
    } else if (separator !== undefined) {
      if (part.numbers.length > 0) next();
    } else if (number !== undefined) {
      if (part.numbers.length > 0 && (/^[+-]/.test(number) || (mark !== "" && marks.includes(mark ?? "")))) next();
      if (number.startsWith("-")) part.negative = true;
      marks += mark ?? "";
      part.numbers.push(Math.abs(Number(number)));
    }
  }
  next();
  return pairParts(found, before === true);
}

function pairParts(found: Part[], before: boolean): [Part, Part] | string {
  const [one, two] = found;
  if (one !== undefined && two === undefined && one.named === "" && one.numbers.length % 2 === 0) {
    const half = one.numbers.length / 2; // only blanks between the two
    return [
      { ...one, numbers: one.numbers.slice(0, half), side: before ? one.side : "" },
      { ...one, numbers: one.numbers.slice(half), side: before ? "" : one.side, negative: false },
    ];
  }
  if (one === undefined || two === undefined || found.length > 2) return needed;
  return [one, two];
}
