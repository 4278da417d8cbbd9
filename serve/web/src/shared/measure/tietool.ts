// Ties: distances by which a spot is found again with a tape, from things that stay.
import { make, makeButton } from "../lib/dom";
import type { Units } from "../lib/units";
import { say } from "../lib/words";
import type { MapView } from "../map/mapview";
import type { MarkPlaces } from "../records/markplaces";
import type { Page, Sheet } from "../shell/sheet";
import { copyButton } from "./copybutton";
import type { BarText } from "./crossbar";
import { doubtText, type Spot } from "./doubt";
import { readKept, writeKept } from "./kept";
import type { Picker, Wish } from "./picker";
import { makeSketchLayer } from "./sketchstyle";
import { tieSketch } from "./tiesketch";
import { mostTies, swingText, tapeLimits, tapeText, tapeTo, tieName, type Ties, tiesText, wayText } from "./tietext";
import "./tietool.css";

export interface TieContext {
  mapView: MapView;
  places: Pick<MarkPlaces, "setAdded">;
  sheet: Sheet;
  picker: Picker;
  units: Units;
  /** the name of the job, for the copied text */
  job: string;
  /** the pack, and its version, under which ties are kept on this device */
  pack: string;
  seal: string;
  /** A position in the form chosen on this device. */
  place(at: [number, number]): string;
}

/** Draws the kept ties, and gives the sheet about them. */
export function makeTieTool(context: TieContext): Page {
  const { mapView, places, sheet, picker, units } = context;
  const name = `ties:${context.pack}`;
  const kept = readKept(name);
  let chosenIn = kept?.seal ?? context.seal;
  const all: Ties = { target: kept?.spots[0] ?? null, ties: kept?.spots.slice(1, 1 + mostTies) ?? [] };
  const sketch = makeSketchLayer((room) => places.setAdded("ties", room));
  mapView.map.addLayer(sketch.layer);
  const changed = () => {
    if (all.target === null) chosenIn = context.seal;
    sketch.draw(tieSketch(all, units));
    save();
    sheet.redrawPage(page);
  };
  const save = () => writeKept(name, { seal: chosenIn, spots: all.target === null ? [] : [all.target, ...all.ties], line: null });
  const clear = () => {
    [all.target, all.ties] = [null, []];
    changed();
  };
  const choose = () => {
    sheet.close();
    picker.start(wishFor(all, units, changed, () => {
      sheet.open(page);
      sketch.show(mapView);
    }));
  };
  const remove = (i: number) => () => {
    all.ties.splice(i, 1);
    changed();
  };
  const page: Page = {
    title: say("tie.title"),
    body: () => [
      ...(all.target === null ? [make("p", "", say("tie.begin"))] : [targetRow(all.target)]),
      ...(chosenIn === context.seal ? [] : [make("p", "fixed", say("tie.earlier"))]),
      ...all.ties.map((_, i) => tieRow(all, i, units, save, remove(i))),
      ...swingText(all, units).map((s) => make("p", "tie-said", s)),
      buttons(all, choose, clear, () => `${context.job}\n${tiesText(all, units, context.place)}`),
      make("ul", "tie-limits", ...tapeLimits(units).map((s) => make("li", "", s))),
    ],
  };
  sketch.draw(tieSketch(all, units));
  return page;
}

function buttons(all: Ties, choose: () => void, clear: () => void, text: () => string): HTMLElement {
  const next = all.target === null ? say("tie.choose_target") : say("tie.choose_tie", { n: all.ties.length + 1 });
  const box = make("div", "tie-buttons");
  if (all.ties.length < mostTies) box.append(makeButton([next], choose));
  if (all.ties.length > 0) box.append(copyButton(say("tie.title"), text));
  if (all.target !== null) box.append(makeButton([say("tie.clear")], clear));
  return box;
}

function targetRow(target: Spot): HTMLElement {
  return make("section", "tie", make("h3", "", say("tie.target")), make("p", "", say("tie.line", { what: target.what, grounds: target.grounds })));
}

function tieRow({ target, ties }: Ties, i: number, units: Units, save: () => void, remove: () => void): HTMLElement {
  const tie = ties[i] as Spot;
  const tape = tapeTo(tie, target as Spot, units);
  return make("section", "tie", make("h3", "", tieName(tie, i)), make("p", "", make("b", "", tapeText(tape, units))), make("p", "", wayText(tape)),
    make("p", "", say("tie.line", { what: tie.what, grounds: tie.grounds })), editRow(say("tie.name_tie", { n: i + 1 }), tieName(tie, i), tie, save, remove));
}

/** A field for the name of a spot, as the picture shows a hydrant and no record says so; and a button to remove it. */
export function editRow(label: string, name: string, spot: Spot, save: () => void, remove: () => void): HTMLElement {
  const input = Object.assign(make("input", ""), { type: "text", value: spot.named, maxLength: 60, autocomplete: "off", placeholder: say("tie.name_here") });
  input.setAttribute("aria-label", label);
  input.addEventListener("change", () => {
    spot.named = input.value.trim();
    save();
  });
  const button = makeButton([say("tie.remove")], remove);
  button.setAttribute("aria-label", say("tie.remove_it", { name }));
  return make("div", "tie-edit", input, button);
}

/** The spots for some ties: the target first. */
function wishFor(all: Ties, units: Units, changed: () => void, ended: () => void): Wish {
  return {
    words(spot): BarText {
      const doubt = say("tie.bar_spot", { what: spot.what, doubt: doubtText(spot.doubt, units) });
      if (all.target === null) return { main: say("tie.ask_target"), more: doubt, limit: say("tie.ask_how") };
      const tape = tapeText(tapeTo(spot, all.target, units), units);
      return { main: say("tie.ask_tie", { n: all.ties.length + 1, tape }), more: spot.what, limit: spot.grounds };
    },
    from: () => all.target?.at ?? null,
    take(spot) {
      if (all.target === null) all.target = spot;
      else all.ties.push(spot);
      changed();
      return all.ties.length < mostTies;
    },
    back() {
      if (all.ties.pop() === undefined) all.target = null;
      changed();
    },
    ended,
  };
}
