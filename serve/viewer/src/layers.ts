// The sheet of layers: what is recorded, how well, and what the picture is.
import { make } from "./dom";
import { edgeSwatch, levelSwatch, levelText, levels, swatch } from "./look";
import { isOn, put, type Layer } from "./overlays";
import type { About } from "./types";
import { dateText, dayOf, lengthText, pixelText } from "./units";

/** The one sentence that must never be missing from a map of records. */
export const fixedStatement = "No line on the map does not mean nothing is there.";

/** The body of the layers sheet. `changed` runs when a layer is put on or off. */
export function layersBody(about: About, layers: Layer[], changed: () => void): Node[] {
  const parts: Node[] = [make("p", "fixed", fixedStatement)];
  if (about.expected_missing.length > 0) {
    parts.push(make("p", "fixed", `Expected here, but no record is in this pack: ${about.expected_missing.join(", ")}.`));
  }
  const list = make("ul", "records", ...layers.map((l) => row(l, changed)));
  parts.push(layers.length > 0 ? list : make("p", "", "This pack holds no records of lines or readings."));
  parts.push(heading("Edges"), edges(), heading("How a line was established"), levelKey(), heading("This job"), facts(about));
  return parts;
}

function heading(text: string): HTMLElement {
  return make("h3", "", text);
}

function row(l: Layer, changed: () => void): HTMLElement {
  const o = l.overlay;
  const box = make("input", "");
  box.type = "checkbox";
  box.checked = isOn(l);
  box.dataset.overlay = o.id;
  box.addEventListener("change", () => {
    put(l, box.checked);
    changed();
  });
  const text = make("span", "record",
    make("b", "", o.title),
    make("span", "", `${o.utility_name} · ${levelText(o.quality_level)}`),
    make("span", "", o.recorded === "" ? "record date not stated" : `recorded ${dateText(o.recorded, new Date())}`));
  if (o.note !== "") text.append(make("span", "", o.note));
  if (l.fault !== "") text.append(make("strong", "fault", `Not drawn. ${l.fault}`));
  return make("li", "", make("label", "", box, swatch(o), text));
}

function edges(): HTMLElement {
  return make("ul", "key",
    make("li", "", edgeSwatch("area"), "dig area"),
    make("li", "", edgeSwatch("margin"), "margin round it, as far as the deep picture goes"),
    make("li", "", make("i", "hatch"), "no picture in the pack"));
}

function levelKey(): HTMLElement {
  return make("ul", "key", ...levels.map(({ level, words }) =>
    make("li", "", levelSwatch(level), make("span", "", level === "" ? words : `${level}: ${words}`))));
}

function facts(about: About): HTMLElement {
  const now = new Date();
  const rows: [string, string][] = [
    ["Picture", about.source.name || "source not stated"],
    ["Picture date", about.source.captured === "" ? "unknown" : dateText(about.source.captured, now)],
    ["Finest picture", `1 px = ${pixelText(about.ground_resolution_m, about.units)}; how far off it lies is not stated by this`],
    ["Fetched", about.fetched ? `${dayOf(about.fetched.oldest)} to ${dayOf(about.fetched.newest)}` : "date not stated"],
    ["Packed", about.packed === "" ? "date not stated" : dateText(dayOf(about.packed), now)],
  ];
  if (about.holes > 0) rows.push(["Missing", `${about.holes} planned ${about.holes === 1 ? "tile is" : "tiles are"} not in this pack`]);
  if (about.tolerance) {
    const rule = about.tolerance.rule === "" ? "rule not stated" : about.tolerance.rule;
    rows.push(["Tolerance", `${lengthText(about.tolerance.each_side_m, about.units)} each side; ${rule}. ` +
      "It starts at the marks on the ground, not at lines on this map."]);
  }
  return terms(rows);
}

/** A list of names and values. */
export function terms(rows: [string, string][]): HTMLElement {
  const list = make("dl", "");
  for (const [name, value] of rows) list.append(make("dt", "", name), make("dd", "", value));
  return list;
}
