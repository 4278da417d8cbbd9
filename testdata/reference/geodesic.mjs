// Geodesics on the WGS 84 ellipsoid by the npm package geographiclib-geodesic
// 2.2.0 (C. F. F. Karney, GeographicLib, MIT).
//
//   node geodesic.mjs < questions.json
// reads {"direct": [[lat, lon, azimuth, metres], …], "inverse": [[lat, lon, lat, lon], …]}
// and writes {"direct": [[lat, lon], …], "inverse": [metres, …]}.
import { readFileSync } from "node:fs";
import geodesic from "geographiclib-geodesic";

const earth = geodesic.Geodesic.WGS84;
const { direct = [], inverse = [] } = JSON.parse(readFileSync(0));
process.stdout.write(
  JSON.stringify({
    direct: direct.map(([lat, lon, azimuth, metres]) => {
      const { lat2, lon2 } = earth.Direct(lat, lon, azimuth, metres);
      return [lat2, lon2];
    }),
    inverse: inverse.map((ends) => earth.Inverse(...ends).s12),
  }),
);
