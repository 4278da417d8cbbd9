// The top of a pipe from the depth of its centre.
import { load, table } from "./load.mjs";

const { topText } = await load("shared/sheets/pipetop.ts");
const of = (properties, units = "us") => topText({ get: (k) => properties[k] }, units);
table("top of the pipe", [
  // facts of the trade: centre 36 in and 12 in across give a top at about 30 in
  ["a signal, 36 in, 12 in across", of({ depth_m: 0.9144, frequency_hz: 8192, size: "12 in", width_m: 0.3048 }).slice(0, 12), "about 2′ 6″:"],
  ["said to be to the center", of({ depth_m: 1, depth_of: "center of pipe", size: "300 mm", width_m: 0.3 }, "metric").slice(0, 13), "about 0.85 m:"],
  ["size not known", of({ depth_m: 0.9144, frequency_hz: 8192 }).slice(0, 10), "not known:"],
  ["size in words", of({ depth_m: 0.9144, frequency_hz: 8192, size: "6-hub" }).includes("(6-hub) is not understood"), true],
  ["to the top already", of({ depth_m: 1, depth_of: "top of pipe", size: "12 in" }), ""],
  ["no word of what it is to", of({ depth_m: 1, size: "12 in" }), ""],
  ["no depth", of({ frequency_hz: 8192, size: "12 in" }), ""],
  ["numbers that cannot be", of({ depth_m: 0.1, current_ma: 3, size: "36 in", width_m: 0.9144 }).slice(0, 13), "at the ground"],
]);
