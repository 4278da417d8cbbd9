// What the npm package gps 0.9.0 (general-purpose, MIT) reads in sentences of NMEA 0183.
//
//   node nmea.mjs < sentences.json
// reads ["$GPGGA,…*47", …] and writes, for each, its reading, or null for none.
import { readFileSync } from "node:fs";
import GPS from "gps";

const read = (line) => {
  try {
    return GPS.Parse(line) || null;
  } catch {
    return null;
  }
};
process.stdout.write(JSON.stringify(JSON.parse(readFileSync(0)).map(read)));
