// Coordinates as typed and as shown, against published examples.
import assert from "node:assert/strict";
import test from "node:test";
import { load, table } from "./load.mjs";

const { coordinateForms, coordinateText, parseCoordinates } = await load("shared/coords/coordinates.ts");
const { fromUtm, toUtm } = await load("shared/coords/utm.ts");
const { toMgrs } = await load("shared/coords/mgrs.ts");

const read = (typed) => {
  const found = parseCoordinates(typed);
  return typeof found === "string" ? found : `${found[0].lat.toFixed(5)} ${found[0].lon.toFixed(5)}`;
};
const there = "40.01234 -105.01234";

table("typed degrees", [
  ["decimal", read("40.01234, -105.01234"), there],
  ["without a comma", read("  40.01234   -105.01234 "), there],
  ["letters behind", read("40.01234N 105.01234W"), there],
  ["letters before", read("N40.01234 W105.01234"), there],
  ["letters before, with a comma", read("n 40.01234, w 105.01234"), there],
  ["words", read("lat 40.01234 lon -105.01234"), there],
  ["words, longitude first", read("Longitude: -105.01234, Latitude: 40.01234"), there],
  ["words for sides", read("40.01234° north, 105.01234° west"), there],
  ["longitude first, as letters say", read("105.01234 W 40.01234 N"), there],
  ["longitude first, as its size says", read("-105.01234 40.01234"), there],
  ["a true minus sign", read("40.01234, −105.01234"), there],
  ["decimal commas", read("40,01234 -105,01234"), there],
  ["decimal commas and a semicolon", read("40,01234; -105,01234"), there],
  ["a geo URI (RFC 5870)", read("geo:40.01234,-105.01234"), there],
  ["a slash", read("40.01234/-105.01234"), there],
  ["minutes", read("40° 0.7404' N, 105° 0.7404' W"), there],
  ["minutes without marks", read("40 0.7404 -105 0.7404"), there],
  ["minutes, other marks", read("40d0.7404m N 105d0.7404m W"), there],
  ["seconds", read("40°00′44.424″N 105°00′44.424″W"), there],
  ["seconds, plain quotes", read("40°0'44.424\"N105°0'44.424\"W"), there],
  ["seconds, two single quotes", read("40°0'44.424''N 105°0'44.424''W"), there],
  ["seconds with colons", read("40:0:44.424N 105:0:44.424W"), there],
  ["seconds with hyphens", read("40-00-44.424N 105-00-44.424W"), there],
  ["seconds without marks", read("40 0 44.424 -105 0 44.424"), there],
  ["seconds, words", read("40 deg 0 min 44.424 sec N, 105 deg 0 min 44.424 sec W"), there],
  ["just south of the equator", read("-0 30 0 -0 30 0"), "-0.50000 -0.50000"],
  // GeodSolve manual
  ["Changi", read("01:21:33N 103:59:22E"), "1.35917 103.98944"],
]);

table("typed degrees, refused", [
  ["one number", /^Type a latitude and a longitude/.test(read("40.01234")), true],
  ["a word", read("over there"), "Type a latitude and a longitude, such as 40.01234, -105.01234."],
  ["a strange letter", read("40.1 Q 105.2"), "“Q” was not understood."],
  ["three numbers", /^Type a latitude/.test(read("40, -105, 1600")), true],
  ["neither can be a latitude", read("91 -105"), "A latitude is 90° at most, not 105°."],
  ["two latitudes", /the same kind/.test(read("40N 41N")), true],
  ["latitude beyond the pole", read("95N 105W"), "A latitude is 90° at most, not 95°."],
  ["longitude round the earth", read("40 -185"), "A longitude is 180° at most, not 185°."],
  ["sixty minutes", read("40 60 -105 0"), "Minutes and seconds are less than 60."],
  ["half degrees with minutes", read("40.5 30 -105 30"), "Only the last of degrees, minutes and seconds can have decimals."],
  ["minus and W", read("40N -105W"), "The minus sign and the letter W say the same thing. Leave one out."],
  ["commas for all", /point/.test(read("40,1,105,2")), true],
  ["nothing", read("  "), ""],
]);

test("typed degrees: a west left away is offered, not assumed", () => {
  const found = parseCoordinates("40.01234 105.01234");
  assert.deepEqual(found.map((r) => r.lon), [105.01234, -105.01234]);
  assert.match(found[1].words, /if you meant west/);
  assert.equal(parseCoordinates("40.01234 105.01234E").length, 1);
});

const utm = (typed) => {
  const found = parseCoordinates(typed);
  return typeof found === "string" ? found : found.map((r) => `${r.lat.toFixed(5)} ${r.lon.toFixed(5)}`);
};
// GeographicLib, GeoConvert manual: 38SMB4488 is 33.33424 44.40363, and UTM 38n 444500 3688500.
table("typed grids", [
  ["MGRS to a kilometre", utm("38SMB4488"), ["33.33424 44.40363"]],
  ["the same, small and apart", utm("38s mb 44 88"), ["33.33424 44.40363"]],
  ["UTM with the half of the earth", utm("38n 444500 3688500"), ["33.33424 44.40363"]],
  ["UTM with its band, S: both are offered", utm("38S 444500 3688500"), ["33.33424 44.40363", "-56.94380 44.08775"]],
  ["UTM with letters", utm("38 north 444500mE 3688500mN"), ["33.33424 44.40363"]],
  ["UTM, zone last, commas", utm("444,500 3,688,500 zone 38 N"), ["33.33424 44.40363"]],
  ["UTM, northing first", utm("3688500N 444500E 38N"), ["33.33424 44.40363"]],
  ["odd digits", utm("38SMB448"), "Read as MGRS, but MGRS digits come in two halves of equal length."],
  ["no such zone", utm("61SMB4488"), "Read as MGRS, but zones are numbered 1 to 60, not 61."],
  ["no such column", utm("38SAB4488"), "Read as MGRS, but zone 38 has no column A."],
  ["row of another band", utm("38SMM4488"), "Read as MGRS, but band S has no row M in zone 38."],
  ["an easting too small", utm("38N 4445 3688500"), "Read as UTM, but an easting is between 100,000 and 900,000 m, not 4,445 m."],
  ["no such band", utm("38I 444500 3688500"), "Read as UTM, but there is no band I."],
]);

table("shown", [
  ["degrees", coordinateText("dd", 40.01234, -105.01234), "Latitude 40.0123400, longitude -105.0123400"],
  ["minutes", coordinateText("dm", 40.01234, -105.01234), "40°00.74040′N 105°00.74040′W"],
  ["seconds", coordinateText("dms", 40.01234, -105.01234), "40°00′44.4240″N 105°00′44.4240″W"],
  ["seconds never come to sixty", coordinateText("dms", 39.99999999999, -0.00000000001), "40°00′00.0000″N 0°00′00.0000″W"],
  ["UTM", coordinateText("utm", 33.33424, 44.40363), "38S 444500.2 E 3688500.5 N"],
  ["MGRS, cut off to the metre", coordinateText("mgrs", 33.33424, 44.40363), "38S MB 44500 88500"],
  ["no UTM at the pole", coordinateText("utm", 85, 0), "no UTM this near a pole"],
]);

/** Places all over, always the same. */
function places(count) {
  let seed = 11;
  const random = () => (seed = (seed * 48271) % 2147483647) / 2147483647;
  return Array.from({ length: count }, () => [random() * 163.9 - 79.95, random() * 360 - 180]);
}

test("UTM: back to where it began, within a tenth of a millimetre", () => {
  for (const [lat, lon] of places(2000)) {
    const back = fromUtm(toUtm(lat, lon));
    assert.ok(Math.abs(back.lat - lat) < 1e-9 && Math.abs(back.lon - lon) * Math.cos(lat * Math.PI / 180) < 1e-9, `${lat} ${lon}: ${back.lat} ${back.lon}`);
  }
});

test("every form is read again as shown, to its own fineness", () => {
  const metres = { dd: 0.02, dm: 0.02, dms: 0.01, utm: 0.1, mgrs: 1 };
  for (const [lat, lon] of places(400)) {
    for (const { form } of coordinateForms) {
      const found = parseCoordinates(coordinateText(form, lat, lon));
      assert.ok(Array.isArray(found), `${coordinateText(form, lat, lon)}: ${found}`);
      const off = Math.min(...found.map((r) => Math.hypot((r.lat - lat) * 111_200, (r.lon - lon) * 111_320 * Math.cos(lat * Math.PI / 180))));
      assert.ok(off < metres[form], `${coordinateText(form, lat, lon)} is ${off} m off`);
    }
  }
});

test("any text is answered in words or with places on earth", () => {
  const signs = "0123456789.,;:-+°'\"′″NSEWnsewUTMC 13TDE/()lat";
  let seed = 5;
  const random = (n) => (seed = (seed * 48271) % 2147483647) % n;
  for (let i = 0; i < 20_000; i++) {
    const typed = Array.from({ length: random(24) }, () => signs[random(signs.length)]).join("");
    const found = parseCoordinates(typed);
    if (typeof found === "string") continue;
    assert.ok(found.length > 0);
    for (const r of found) assert.ok(Math.abs(r.lat) <= 90 && Math.abs(r.lon) <= 180 && r.words !== "", typed);
  }
});

test("MGRS: letters only where there are some", () => {
  for (const [lat, lon] of places(2000)) assert.match(toMgrs(lat, lon), /^\d{1,2}[C-HJ-NP-X] [A-HJ-NP-Z][A-HJ-NP-V] \d{5} \d{5}$/);
});
