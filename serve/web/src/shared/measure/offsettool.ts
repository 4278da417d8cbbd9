// Station and offset: how far along a line a point is, and how far to its left or right.
import type { Coordinate } from "ol/coordinate";
import { fromLonLat, toLonLat } from "ol/proj";
import { LineString } from "ol/geom";
import type { LonLat } from "../coords/geodesic";
import { feetOn, lineLength } from "../coords/station";
import { make, makeButton } from "../lib/dom";
import { depthText, type Units } from "../lib/units";
import { say } from "../lib/words";
import type { Page } from "../shell/sheet";
import { copyButton } from "./copybutton";
import { doubtText, type Spot } from "./doubt";
import { readKept, writeKept } from "./kept";
import { offsetSketch } from "./offsetsketch";
import { markedLine, offsetLimits, type Offsets, offsetsText, offsetText, pointName, stationText, swapped } from "./offsettext";
import type { Wish } from "./picker";
import { makeSketchLayer } from "./sketchstyle";
import type { PickedLine, Snapper } from "./snap";
import { editRow, type TieContext } from "./tietool";

/** As many points are told by one line. */
const mostPoints = 12;

/** Draws what was kept, and gives the sheet about it. */
export function makeOffsetTool(context: TieContext, snapper: Snapper): Page {
  const { mapView, places, sheet, picker, units } = context;
  const name = `offsets:${context.pack}`;
  const kept = readKept(name);
  let chosenIn = kept?.seal ?? context.seal;
  const all: Offsets = { line: kept?.line ?? null, points: kept?.spots.slice(0, mostPoints) ?? [] };
  const sketch = makeSketchLayer((room) => places.setAdded("offsets", room));
  mapView.map.addLayer(sketch.layer);
  const save = () => writeKept(name, { seal: chosenIn, spots: all.points, line: all.line });
  const changed = () => {
    if (all.line === null) chosenIn = context.seal;
    sketch.draw(offsetSketch(all, units));
    save();
    sheet.redrawPage(page);
  };
  const start = (wish: Omit<Wish, "ended">) => () => {
    sheet.close();
    picker.start({ ...wish, ended: () => {
      sketch.draw(offsetSketch(all, units));
      sheet.open(page);
    } });
  };
  const setLine = (line: PickedLine | null) => {
    all.line = line;
    changed();
  };
  const clear = () => {
    all.points = [];
    setLine(null);
  };
  const page: Page = {
    title: say("offset.title"),
    body: () => {
      const { line, points } = all;
      const box = make("div", "tie-buttons");
      if (line !== null && points.length < mostPoints) box.append(makeButton([say("offset.add")], start(pointWish(all, line, units, changed))));
      box.append(
        makeButton([say("offset.choose")], start(lineWish(snapper, setLine))),
        makeButton([say("offset.mark")], start(markWish(units, setLine, (corners) => sketch.draw(offsetSketch({ line: null, points: corners }, units))))));
      if (line !== null) box.append(makeButton([say("offset.swap")], () => setLine(swapped(line))));
      if (points.length > 0) box.append(copyButton(say("offset.title"), () => `${context.job}\n${offsetsText(all, units, context.place)}`));
      if (line !== null) box.append(makeButton([say("tie.clear")], clear));
      return [
        ...(line === null ? [make("p", "", say("offset.begin"))] : lineRows(line, units)),
        ...(chosenIn === context.seal ? [] : [make("p", "fixed", say("tie.earlier"))]),
        ...(line === null ? [] : points.map((p, i) => pointRow(line, p, i, units, save, () => {
          points.splice(i, 1);
          changed();
        }))),
        box,
        make("ul", "tie-limits", ...offsetLimits(units).map((s) => make("li", "", s))),
      ];
    },
  };
  sketch.draw(offsetSketch(all, units));
  return page;
}

function lineRows(line: PickedLine, units: Units): Node[] {
  return [make("section", "tie", make("h3", "", say("offset.line")), make("p", "", say("tie.line", { what: line.what, grounds: line.grounds })),
    make("p", "", say("offset.runs", { start: stationText(0, units), end: stationText(lineLength(line.path), units) })))];
}

function pointRow(line: PickedLine, p: Spot, i: number, units: Units, save: () => void, remove: () => void): HTMLElement {
  const { main, more, doubt } = offsetText(line, p, units);
  return make("section", "tie", make("h3", "", pointName(p, i)), make("p", "", make("b", "", main)), ...more.map((m) => make("p", "", m)),
    make("p", "", doubt), make("p", "", say("tie.line", { what: p.what, grounds: p.grounds })),
    editRow(say("offset.name", { n: i + 1 }), pointName(p, i), p, save, remove));
}

/** For one recorded line. */
function lineWish(snapper: Snapper, choose: (line: PickedLine) => void): Omit<Wish, "ended"> {
  let found: PickedLine | null = null;
  return {
    async seek(place, pixels, resolution) {
      found = await snapper.lineNear(place, pixels, resolution);
      return found === null ? null : { at: nearestOn(found, place), what: found.what, doubt: found.doubt, grounds: found.grounds, named: "" };
    },
    words: (spot) => (found?.what !== spot.what ? { main: say("offset.ask_line"), more: say("offset.no_line_here"), limit: "" }
      : { main: say("offset.ask_line"), more: spot.what, limit: spot.grounds }),
    from: () => null,
    take(spot) {
      if (found === null || found.what !== spot.what) return true; // it no longer is under the cross
      choose(found);
      return false;
    },
    back: () => undefined,
  };
}

function nearestOn({ path }: PickedLine, place: Coordinate): LonLat {
  return toLonLat(new LineString(path.map((p) => fromLonLat(p))).getClosestPoint(place)) as LonLat;
}

/** For the points of a line marked by hand. */
function markWish(units: Units, choose: (line: PickedLine | null) => void, draw: (corners: Spot[]) => void): Omit<Wish, "ended"> {
  const corners: Spot[] = [];
  let wasLine = false; // the first corner alone takes no earlier line away
  const changed = () => {
    if (corners.length > 1 || wasLine) choose(markedLine(corners));
    wasLine = corners.length > 1;
    if (!wasLine) draw(corners);
  };
  return {
    words(spot) {
      const length = depthText(lineLength([...corners, spot].map((c) => c.at)), units);
      return {
        main: corners.length === 0 ? say("offset.ask_start") : say("offset.ask_next", { n: corners.length + 1, length }),
        more: say("tie.bar_spot", { what: spot.what, doubt: doubtText(spot.doubt, units) }), limit: spot.grounds,
      };
    },
    from: () => corners[corners.length - 1]?.at ?? null,
    take(spot) {
      corners.push(spot);
      changed();
      return true;
    },
    back() {
      corners.pop();
      changed();
    },
  };
}

/** For points told by a line. */
function pointWish(all: Offsets, line: PickedLine, units: Units, changed: () => void): Omit<Wish, "ended"> {
  return {
    words(spot) {
      const { main, more, doubt } = offsetText(line, spot, units);
      return { main, more: more[0] ?? spot.what, limit: doubt };
    },
    from: (spot) => feetOn(line.path, spot.at)[0]?.at ?? null,
    take(spot) {
      all.points.push(spot);
      changed();
      return all.points.length < mostPoints;
    },
    back() {
      all.points.pop();
      changed();
    },
  };
}
