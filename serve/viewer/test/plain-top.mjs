// The top of a pipe from the depth of its centre.
import { load, table } from "./load.mjs";

const { sizeMetres, topText } = await load("top.ts");
const mm = (size) => sizeMetres(size) === null ? null : Math.round(sizeMetres(size) * 1e5) / 100;
table("size", [
  ["inches", mm("12 in"), 304.8],
  ["a fraction", mm("3/4 in"), 19.05],
  ["a whole and a fraction", mm("1 1/2\""), 38.1],
  ["with a hyphen", mm("1-1/2 inch"), 38.1],
  ["decimals", mm("2.5in"), 63.5],
  ["metric", mm("300 mm"), 300],
  ["metres", mm("1.2m"), 1200],
  ["words", mm("4 in PVC duct"), null],
  ["a bare number", mm("12"), null],
  ["divided by nothing", mm("1/0 in"), null],
  ["none", mm(""), null],
  ["too wide to be one", mm("40 ft"), null],
]);

const of = (properties, units = "us") => topText({ get: (k) => properties[k] }, units);
table("top of the pipe", [
  // facts of the trade: centre 36 in and 12 in across give a top at about 30 in
  ["a signal, 36 in, 12 in across", of({ depth_m: 0.9144, frequency_hz: 8192, size: "12 in" }).slice(0, 12), "about 2′ 6″:"],
  ["said to be to the center", of({ depth_m: 1, depth_of: "center of pipe", size: "300 mm" }, "metric").slice(0, 13), "about 0.85 m:"],
  ["size not known", of({ depth_m: 0.9144, frequency_hz: 8192 }).slice(0, 10), "not known:"],
  ["to the top already", of({ depth_m: 1, depth_of: "top of pipe", size: "12 in" }), ""],
  ["no word of what it is to", of({ depth_m: 1, size: "12 in" }), ""],
  ["no depth", of({ frequency_hz: 8192, size: "12 in" }), ""],
  ["numbers that cannot be", of({ depth_m: 0.1, current_ma: 3, size: "36 in" }).slice(0, 13), "at the ground"],
]);
