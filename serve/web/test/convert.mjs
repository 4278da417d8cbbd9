// Converts places on the standard input, "latitude longitude" in a line, to
// UTM in hundredths of a metre and MGRS in metres, for comparison with an
// outside program; and with -read typed coordinates to degrees, every way to
// understand them.
import { createInterface } from "node:readline";
import { load } from "./load.mjs";

const { parseCoordinates } = await load("shared/coords/coordinates.ts");
const { toUtm } = await load("shared/coords/utm.ts");
const { toMgrs } = await load("shared/coords/mgrs.ts");
const read = process.argv.includes("-read");
for await (const line of createInterface({ input: process.stdin })) {
  if (read) {
    const found = parseCoordinates(line);
    console.log(typeof found === "string" ? `refused: ${found}` : found.map((r) => `${r.lat.toFixed(9)} ${r.lon.toFixed(9)}`).join(" | "));
    continue;
  }
  const [lat, lon] = line.split(" ").map(Number);
  const u = toUtm(lat, lon);
  console.log(`${u.zone}${u.north ? "n" : "s"} ${u.easting.toFixed(4)} ${u.northing.toFixed(4)} ${toMgrs(lat, lon).replaceAll(" ", "")}`);
}
