// The list of all records of a pack in words, with a search through them: what is not recorded first,
// then what is in the dig area, then what is kept around it.
import type Feature from "ol/Feature";
import { getCenter, getIntersection } from "ol/extent";
import type { Geometry } from "ol/geom";
import type { About } from "../lib/api";
import { make, makeButton } from "../lib/dom";
import { say } from "../lib/words";
import type { MapView } from "../map/mapview";
import type { RecordSet } from "../map/recordset";
import { notRecorded } from "../records/coverage";
import { isOn } from "../records/layer";
import { focusLast, type Found, foundDerived } from "../sheets/found";
import type { Page, Sheet } from "../shell/sheet";
import { makeInArea } from "./inarea";
import { countOf, type Listing, makeListing } from "./listing";
import { countText, filtered, type Groups, noteAsked } from "./results";
import { type Asked, groupSections, laptopSection, type Show, workedOutSection } from "./sections";
import { folded, matches, typedWords } from "./textmatch";
import "./recordspage.css";

interface Parts {
  about: About;
  records: RecordSet;
  /** the dig area; empty where the pack tells of none */
  area: Geometry[];
  mapView: MapView;
  sheet: Sheet;
}

/** How long the typing must rest before the laptop is asked, in milliseconds. */
const restMs = 350;

export function makeRecordsPage({ about, records, area, mapView, sheet }: Parts): Page {
  let typed = "";
  let last: Found | null = null;
  const isInside = makeInArea(area);
  const page: Page = { title: say("page.records"), body };
  const back = () => {
    mapView.select([]);
    sheet.open(page);
    focusLast();
  };
  const choose = (one: Found) => {
    last = one;
    mapView.select([one.feature]);
    sheet.open({
      title: one.recorded ? say("here.one") : say("layers.worked_out"),
      body: () => [make("div", "back", makeButton([say("list.back")], back)), one.details()],
    });
    goThere(mapView, one.feature.getGeometry());
  };
  // Ten thousand features are compared with the dig area once, and again only after others were loaded.
  let [held, key]: [Listing | null, string] = [null, ""];
  const listed = (): Listing => {
    const now = records.layers.map((l) => `${l.fault} ${l.content?.features ?? l.parts[0].getSource()?.getFeatures().length}`).join();
    if (held === null || now !== key) [held, key] = [makeListing(records.layers, area), now];
    return held;
  };
  const shown = new Map<string, number>();
  const place = (feature: Feature) => {
    const g = feature.getGeometry();
    return area.length === 0 || !g ? "" : isInside(g) ? say("worked.inside") : say("worked.outside");
  };

  function body(): Node[] {
    const listing = listed();
    const show: Show = { units: about.units, now: new Date(), choose, place, shown, isLast: (one) => last !== null && one.feature === last.feature };
    const listsAll = listing.tiled.length + listing.missing.length === 0; // else more may be recorded than is listed
    const results = make("div", "");
    const count = make("p", "count");
    count.setAttribute("role", "status");
    const { box, input } = searchBox(typed);
    let turn = 0;
    let rest: ReturnType<typeof setTimeout> | undefined;
    const draw = () => {
      const mine = ++turn;
      const words = typedWords(typed);
      const groups = filtered(listing, words);
      results.replaceChildren(...sections(groups, listing, words), ...workedOut(words));
      const loaded = countOf(groups.inside ?? []) + countOf(groups.around);
      const tell = (asked: Asked[]) => (mine === turn ? (count.textContent = words.length === 0 ? "" : countText(typed, loaded, listing, asked)) : undefined);
      tell([]);
      clearTimeout(rest);
      if (listing.tiled.length > 0) rest = setTimeout(() => mine === turn && results.append(askAll(words, tell)), words.length === 0 ? 0 : restMs);
    };
    const askAll = (words: string[], tell: (asked: Asked[]) => void) => {
      const asked: Asked[] = [];
      const each = listing.tiled.map((l) => laptopSection(l, words.join(" "), show, (one) => {
        noteAsked(asked, one);
        tell(asked);
      }));
      return make("section", "listed", make("h3", "", say("list.many")), make("p", "", say("list.many_words")), ...each);
    };
    const sections = (g: Groups, l: Listing, words: string[]) => [
      ...(g.inside === null ? groupSections(say("list.pack"), "", g.around, show) : [
        ...groupSections(say("list.inside"), say("list.inside_words"), g.inside, show),
        ...(listsAll && words.length === 0 && g.inside.length === 0 ? [make("p", "fixed", say("list.none_inside"))] : []),
        ...groupSections(say("list.around"), say("list.around_words"), g.around, show)]),
      ...(records.layers.length === 0 ? [make("p", "", say("layers.none"))] : []),
      ...l.missing.map((m) => make("p", "fixed fault", say("list.missing", { title: m.overlay.title, fault: m.fault }))),
    ];
    const workedOut = (words: string[]) => {
      const all = records.derived.layers.filter((l) => l.id === "crossings" || l.id === "beside").flatMap((l) => (l.content ? [] : l.layer.getSource()?.getFeatures() ?? []))
        .map((f) => foundDerived(f, records.layers, about.units, about.tolerance?.rule ?? ""))
        .filter((one) => matches(words, [one.title, ...one.words].map(folded).join("\n")));
      return workedOutSection(all, show);
    };
    input.addEventListener("focus", () => sheet.full()); // a phone's keyboard takes the lower half
    input.addEventListener("input", () => {
      typed = input.value;
      shown.clear();
      draw();
    });
    draw();
    const off = records.layers.filter((l) => !isOn(l)).length;
    return [...notRecorded(about, true).map((w) => make("p", "fixed small", w)), ...(off > 0 ? [make("p", "", say("list.off", { n: off }))] : []), box, count, results];
  }
  return page;
}

function searchBox(typed: string): { box: HTMLElement; input: HTMLInputElement } {
  const input = make("input", "");
  input.type = "search";
  input.id = "records-find";
  input.value = typed;
  input.autocomplete = "off";
  input.enterKeyHint = "search";
  input.placeholder = say("find.label");
  const label = make("label", "unseen", say("find.label"));
  label.htmlFor = input.id;
  const box = make("form", "find", label, input);
  box.setAttribute("role", "search");
  box.addEventListener("submit", (e) => {
    e.preventDefault();
    input.blur(); // the keyboard of a phone goes away
  });
  return { box, input };
}

/** The zoom to which a small thing is brought near, at the most. */
const nearZoom = 21;

/** Brings a shape into the free map, as near as it takes to tell it from its neighbors; of one that runs through the job, what lies there. */
function goThere(mapView: MapView, shape: Geometry | undefined): void {
  if (!shape) return;
  const { view, job } = mapView;
  const extent = shape.intersectsExtent(job) ? getIntersection(shape.getExtent(), job) : shape.getExtent();
  mapView.reveal(getCenter(extent)); // so that the view knows what the sheet leaves free
  view.cancelAnimations();
  view.fit(extent, { padding: [40, 40, 40, 40], maxZoom: Math.max(nearZoom, view.getZoom() ?? 0), duration: 0 });
}
