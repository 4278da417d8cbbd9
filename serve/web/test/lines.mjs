// Lays out tapes and stations for comparison with an outside program: each line of the standard
// input is "swing lat lon lat lon lat lon" (two ties and a target: the lengths of both tapes, the angle
// between them, and the spot they give back) or "station lat lon …" (a line of two points and a
// point: station, offset, and the foot).
import { createInterface } from "node:readline";
import { load } from "./load.mjs";

const { inverse } = await load("shared/coords/geodesic.ts");
const { cutAngle, swing } = await load("shared/coords/swing.ts");
const { feetOn } = await load("shared/coords/station.ts");

for await (const line of createInterface({ input: process.stdin })) {
  const [kind, ...numbers] = line.split(" ");
  const [a, b, point] = [0, 2, 4].map((i) => [Number(numbers[i + 1]), Number(numbers[i])]);
  if (kind === "station") {
    const [foot] = feetOn([a, b], point);
    console.log(foot.station.toFixed(6), foot.offset.toFixed(6), foot.at[1].toFixed(12), foot.at[0].toFixed(12));
    continue;
  }
  const [ra, rb] = [a, b].map((tie) => inverse(tie, point).metres);
  const [spot] = swing(a, ra, b, rb).sort((p, q) => inverse(p, point).metres - inverse(q, point).metres);
  console.log(ra.toFixed(6), rb.toFixed(6), cutAngle(a, point, b).toFixed(6), spot[1].toFixed(12), spot[0].toFixed(12));
}
