// The legend: every kind of mark that the map draws, in samples painted by what paints the map.
import { besideStyles, uncertaintyStyles, zoneStyles } from "../derived/styles";
import type { Overlay } from "../lib/api";
import { make } from "../lib/dom";
import { theme } from "../lib/theme";
import { say } from "../lib/words";
import { edgeStyles } from "../map/digarea";
import { crossingPicture, flagPicture } from "../records/derivedmarks";
import type { LineLook } from "../records/linemarks";
import { type MarkKind, markKinds } from "../records/marks";
import { depthPicture, dotEdgePicture, dotPicture, ringEdgePicture, ringPicture, testHoleEdgePicture, testHolePicture, unwrittenPicture } from "../records/pointmarks";
import { stateSymbols } from "../records/statesymbols";
import { chosenStyles, faceMark } from "../records/styles";
import { lineSample, pictureSample, styleSample } from "../records/swatches";
import { qualityLevels } from "../records/symbology";
import "./legend.css";

/** A sample and what it means. */
export interface LegendRow {
  sample: HTMLElement;
  words: string;
}

/** A record in ink, for samples of what is the same for all utilities. */
const inInk = (o: Overlay): Overlay => ({ ...o, colour: theme().ink, casing: theme().paper, letter: "" });
const noRecord = { id: "", title: "", utility: "", utility_name: "", letter: "?", quality_level: "", recorded: "", owner: "", record: "",
  accuracy_m: null, features: 0, url: "", note: "", colour: "#ff1493", casing: "#000000" };

const plain = (o: Overlay, level: string, state = ""): LineLook => ({ overlay: inInk(o), level, state, letters: null, plain: true });
const line = (overlay: Overlay, level: string): LineLook => ({ overlay, level, state: "", letters: null });

/** The rows of each kind of mark; `o` is any record, for its colors. */
const rowsOf: Record<MarkKind, (all: Overlay[], o: Overlay) => LegendRow[]> = {
  line: (all, o) => [
    ...all.filter((x, i) => all.findIndex((y) => y.utility === x.utility) === i)
      .map((x) => ({ sample: lineSample(line(x, "A"), true), words: say("legend.utility", { utility: x.utility_name, letter: x.letter }) })),
    ...qualityLevels.map(({ level, words }) => ({
      sample: lineSample(plain(o, level), false), words: level === "" ? words : say("details.level", { level, words }),
    })),
  ],
  letter: () => [], // with the lines of each utility
  state: (_, o) => stateSymbols().map(({ state }) => ({ sample: lineSample(plain(o, "A", state), false), words: stateWords(state) })),
  outline: (_, o) => [{ sample: styleSample([faceMark(o, "A")], "box"), words: say("legend.outline") }],
  reading: (_, o) => [{ sample: pictureSample(...[-24, 4, 22].flatMap((x, i) => {
    const radius = [8, 6, 3.5][i] ?? 8;
    return [[dotEdgePicture(o, radius), x], [dotPicture(o, radius), x]] as [ReturnType<typeof dotPicture>, number][];
  })), words: say("legend.reading") }],
  several: (_, o) => [{ sample: pictureSample([ringEdgePicture(o, 6)], [ringPicture(o, 6)]), words: say("legend.several") }],
  "test hole": (_, o) => [{ sample: pictureSample([testHoleEdgePicture(o)], [testHolePicture(o)]), words: say("legend.test_hole") }],
  depth: (_, o) => [
    { sample: pictureSample([depthPicture(o, `${o.letter} 3′ 4″`, 4, -13), -38]), words: say("legend.depth") },
    { sample: pictureSample([dotEdgePicture(o, 8)], [dotPicture(o, 8)], [unwrittenPicture(o, 8)]), words: say("legend.depth_unwritten") },
  ],
  joined: (_, o) => [{ sample: lineSample(line(o, o.quality_level), false), words: say("legend.readings_line") }],
  zone: (_, overlay) => [{ sample: styleSample(zoneStyles({ overlay }), "box"), words: say("legend.zone") }],
  uncertainty: (_, overlay) => [{ sample: styleSample(uncertaintyStyles({ overlay }), "box"), words: say("legend.uncertainty") }],
  crossing: () => [
    { sample: pictureSample([crossingPicture("7", false)]), words: say("legend.crossing") },
    { sample: pictureSample([crossingPicture("7?", true)]), words: say("legend.crossing_unknown") },
  ],
  entry: () => [
    { sample: pictureSample([flagPicture([0, 2])]), words: say("legend.entry") },
    { sample: pictureSample([flagPicture([0, 2], 2)]), words: say("legend.entry_several") },
  ],
  beside: () => [{ sample: styleSample(besideStyles(), "line"), words: say("legend.beside") }],
  area: () => [{ sample: styleSample(edgeStyles("area"), "line"), words: say("layers.area") }],
  margin: () => [{ sample: styleSample(edgeStyles("margin"), "line"), words: say("layers.margin") }],
  chosen: () => [{ sample: styleSample(chosenStyles(), "line"), words: say("legend.chosen") }],
};

/** The list of all marks; `more` are marks that the page itself adds, such as that of the position. */
export function legend(records: Overlay[], more: LegendRow[]): HTMLElement {
  const any = records[0] ?? noRecord;
  const list = make("ul", "legend");
  const add = (kind: string, { sample, words }: LegendRow) => {
    const row = make("li", "", sample, make("span", "", words));
    row.dataset.mark = kind;
    list.append(row);
  };
  for (const kind of markKinds) for (const row of rowsOf[kind](records, any)) add(kind, row);
  for (const row of more) add("position", row);
  add("blank", { sample: make("i", "hatch"), words: say("layers.no_picture") });
  return list;
}

function stateWords(state: string): string {
  switch (state) {
    case "abandoned": return say("legend.abandoned");
    case "out of service": return say("legend.out_of_service");
    case "proposed": return say("legend.proposed");
    default: return state;
  }
}
