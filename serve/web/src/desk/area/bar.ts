// The bar of drawing: what is under the pointer in numbers, what can be typed, the steps, what is odd.
import { byId, make, makeButton, setChildren, setHidden, setText } from "../../shared/lib/dom";
import type { LonLat } from "../../shared/coords/geodesic";
import type { Units } from "../../shared/lib/units";
import { say } from "../../shared/lib/words";
import { measuredArea, measuredLength } from "../../shared/measure/measurement";
import { makeKept } from "../app/kept";
import { lengthTyped, lineLength, outlineArea } from "./ground";
import { linesOf, type Shape } from "./shapes";
import type { Live, ToolKind } from "./toolcontext";

/** What is odd about a shape, as the server says it. */
export interface Odd {
  shape: number;
  wrong: boolean;
  what: string;
  remedy?: string;
  at: LonLat;
}

export interface BarState {
  shapes: Shape[];
  chosen: number;
  tool: ToolKind | null;
  live: Live | null;
  units: Units;
  /** of all, in words of the server; "" while it is not known */
  area: string;
  odd: Odd[];
  canUndo: boolean;
  canRedo: boolean;
  dirty: boolean;
  /** it becomes a new job */
  fresh: boolean;
}

interface BarActions {
  undo(): void;
  redo(): void;
  finish(): void;
  remove(): void;
  choose(i: number): void;
  setWidth(text: string): void;
  setRadius(text: string): void;
  setMargin(text: string): void;
  place(text: string): void;
  show(at: LonLat): void;
  save(): void;
  close(): void;
}

interface Bar {
  draw(s: BarState): void;
  hide(): void;
  readonly width: HTMLInputElement;
  readonly margin: HTMLInputElement;
}

/** What a shape or a sketch measures, in words. */
function measureWords(l: Live, units: Units): string {
  const length = (m: number) => measuredLength(m, m / 2000, units);
  const area = (m2: number) => measuredArea(m2, m2 / 2000, units);
  if (l.kind === "circle") return say("draw.circle_is", { radius: length(l.metres ?? 0), area: area(Math.PI * (l.metres ?? 0) ** 2) });
  const [first = []] = l.lines;
  if (l.kind === "route") return say("draw.route_is", { length: length(lineLength(first)), n: first.length });
  const edge = l.lines.reduce((sum, r) => sum + lineLength(r), 0);
  return say("draw.outline_is", { area: area(outlineArea(l.lines)), edge: length(edge), n: l.lines.reduce((n, r) => n + r.length - 1, 0) });
}

const liveOf = (s: Shape): Live => ({ kind: s.kind, lines: s.kind === "circle" ? [] : linesOf(s), metres: lengthTyped(s.radius ?? "") ?? 0 });

function nameOf(s: Shape, i: number): string {
  const kind = { polygon: say("draw.outline"), box: say("draw.outline"), route: say("draw.route"), circle: say("draw.circle") }[s.kind];
  return s.name === undefined || s.name === "" ? `${kind} ${i + 1}` : `${kind} ${i + 1}: ${s.name}`;
}

export function makeBar(a: BarActions): Bar {
  const field = (id: string, label: string, done: (text: string) => void): { row: HTMLElement; input: HTMLInputElement } => {
    const input = make("input", "");
    Object.assign(input, { id: `draw-${id}`, type: "text", autocomplete: "off", spellcheck: false });
    const l = make("label", "", label);
    l.htmlFor = input.id;
    input.addEventListener("change", () => done(input.value.trim()));
    return { row: make("div", "field", l, input), input };
  };
  const [live, all] = [make("p", "live"), make("p", "whole")];
  live.setAttribute("aria-live", "polite");
  const width = field("width", say("draw.width"), a.setWidth);
  const radius = field("radius", say("draw.radius"), a.setRadius);
  const margin = field("margin", say("draw.margin"), a.setMargin);
  const place = field("place", say("draw.place"), () => undefined);
  const typing = make("form", "", place.row);
  typing.addEventListener("submit", (e) => {
    e.preventDefault();
    if (place.input.value.trim() !== "") a.place(place.input.value.trim());
    place.input.select();
  });
  width.input.value = "60ft";
  margin.input.value = "50ft";
  const pick = make("select", "");
  pick.id = "draw-shape";
  const pickLabel = make("label", "", say("draw.shape"));
  pickLabel.htmlFor = pick.id;
  pick.addEventListener("change", () => a.choose(Number(pick.value)));
  const button = (text: string, press: () => void) => makeButton([text], press);
  const [undo, redo, finish, remove] = [button(say("draw.undo"), a.undo), button(say("draw.redo"), a.redo), button(say("draw.finish"), a.finish), button(say("draw.remove"), a.remove)];
  const [odd, kept] = [make("ul", "odd"), makeKept<HTMLElement>()];
  const oddTold = make("div", "", odd);
  oddTold.setAttribute("role", "status");
  const save = button(say("draw.save"), a.save);
  save.className = "main";
  const close = button(say("draw.discard"), a.close);
  const box = make("section", "", live, all, make("div", "field", pickLabel, pick), width.row, radius.row, margin.row, typing, make("div", "row", undo, redo, finish, remove), make("div", "row", save, close), oddTold); // what is odd comes late, and moves no button
  box.id = "draw";
  box.setAttribute("aria-label", say("draw.title"));
  box.hidden = true;
  byId("drawing").append(box);

  return {
    width: width.input,
    margin: margin.input,
    hide: () => setHidden(box, true),
    draw(s) {
      setHidden(box, false);
      const one = s.shapes[s.chosen];
      setText(live, s.live !== null ? measureWords(s.live, s.units) : one !== undefined ? measureWords(liveOf(one), s.units) : hint(s.tool));
      setText(all, s.area === "" ? "" : say("draw.whole", { area: s.area }));
      const names = s.shapes.map(nameOf);
      if (pick.dataset.names !== JSON.stringify(names)) {
        pick.dataset.names = JSON.stringify(names);
        pick.replaceChildren(new Option(say("draw.none"), "-1"), ...names.map((n, i) => new Option(n, String(i))));
      }
      pick.value = String(s.chosen);
      setHidden(width.row, !(s.tool === "route" || one?.kind === "route"));
      setHidden(radius.row, one?.kind !== "circle");
      setHidden(margin.row, !s.fresh);
      if (document.activeElement !== width.input && one?.kind === "route") width.input.value = one.width ?? "";
      if (document.activeElement !== radius.input) radius.input.value = one?.radius ?? "";
      undo.disabled = !s.canUndo;
      redo.disabled = !s.canRedo;
      setHidden(finish, s.tool === null);
      setHidden(remove, one === undefined);
      drawOdd(s.odd);
      setText(save, s.fresh ? say("draw.make") : say("draw.save"));
      save.disabled = !s.dirty || s.shapes.length === 0 || s.odd.some((o) => o.wrong);
      setText(close, s.dirty ? say("draw.discard") : say("page.close"));
    },
  };

  function drawOdd(list: Odd[]): void {
    const key = JSON.stringify(list);
    if (odd.dataset.key === key) return;
    odd.dataset.key = key;
    setChildren(odd, list.map((o) => kept.of(JSON.stringify(o), () => {
      const words = o.remedy === undefined || o.remedy === "" ? o.what : `${o.what}; ${o.remedy}`;
      return make("li", o.wrong ? "no" : "", `${say("draw.shape")} ${o.shape + 1}: ${words} `, button(say("draw.show"), () => a.show(o.at)));
    })));
    kept.done();
  }
}

function hint(tool: ToolKind | null): string {
  switch (tool) {
    case "polygon": return say("draw.hint_outline");
    case "route": return say("draw.hint_route");
    case "circle": return say("draw.hint_circle");
    default: return say("draw.hint_edit");
  }
}
