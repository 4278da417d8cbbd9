// The position marker: an element of its own over the map, so that a fix repaints nothing else.
import type { Coordinate } from "ol/coordinate";
import { fromLonLat } from "ol/proj";
import { circleAround } from "../../shared/coords/geodesic";
import { make, setAttribute, setHidden, setText, svg } from "../../shared/lib/dom";
import { theme } from "../../shared/lib/theme";
import type { MapView } from "../../shared/map/mapview";
import type { MarkPlaces } from "../../shared/records/markplaces";
import { ageOf, agoText, doubts, type Fix, freshness, type Freshness, markerText } from "./fix";
import { ringPath } from "./ring";
import "./marker.css";

/** A larger circle, in meters of radius, is of no use on the map of a job. */
const maxCircleMetres = 100_000;
/** A move shorter than this, in pixels of the screen, cannot be seen and is not drawn. */
const leastMove = 0.5;

interface Marker {
  show(fix: Fix | null, trouble: string, now: number): void;
}

type LabelBox = [left: number, top: number, right: number, bottom: number];

/** Whether a box in pixels around a place covers no reading and no label. */
export type IsFree = (place: Coordinate, box: LabelBox, resolution: number) => boolean;

/** How far the marker reaches, in pixels, how far it moves before records are placed around it anew, and how often that is done at most. */
const reach = 12;
const placeAfter = 30;
const placeEveryMs = 2_000;

/** The places of records, which stand clear of the marker. */
export type Places = Pick<MarkPlaces, "isFree" | "setAdded">;

export function makeMarker({ map, free }: Pick<MapView, "map" | "free">, { isFree, setAdded }: Places): Marker {
  const parts = makeParts();
  parts.box.id = "mark";
  map.getOverlayContainer()?.append(parts.box);
  let at: Coordinate | null = null;
  let circle: Circle | null = null;
  let shown = [NaN, NaN];
  let size = [0, 0]; // of the label
  let measured = "";
  let given: Coordinate | null = null; // what records keep clear of
  let givenAt = 0;
  const keepClear = (now: number) => {
    const resolution = map.getView().getResolution();
    if (resolution === undefined || now - givenAt < placeEveryMs) return;
    if (given !== null && at !== null && distance(at, given) < placeAfter * resolution) return;
    const covers = at !== null && !isFree(at, [-reach, -reach, reach, reach], resolution);
    if (!covers && given === null) return;
    [given, givenAt] = [covers ? at : null, now];
    setAdded("position", given === null ? [] : [[given[0] ?? 0, given[1] ?? 0, reach / theme().size]]);
  };
  const place = () => {
    const pixel = at && map.getPixelFromCoordinate(at);
    const resolution = map.getView().getResolution();
    const [width = 0, height = 0] = map.getSize() ?? [];
    setHidden(parts.box, !pixel);
    if (!pixel || resolution === undefined) return;
    const [x = 0, y = 0] = pixel;
    if (!(distance(pixel, shown) * devicePixelRatio < leastMove)) {
      shown = pixel;
      parts.box.style.transform = `translate(${x.toFixed(2)}px,${y.toFixed(2)}px)`;
    }
    // Measured once it is seen: before that it has no size.
    const words = `${theme().size} ${parts.label.textContent}`;
    if (!parts.label.hidden && measured !== words) [measured, size] = [words, [parts.label.offsetWidth, parts.label.offsetHeight]];
    if (!parts.label.hidden) setAttribute(parts.box, "data-side", sideOf(size, (box) => isWithin(box, x, y, free()) && isFree(at ?? [], box, resolution)));
    const path = circle === null ? "" : ringPath(circle.ring, resolution, [-x - width, -y - height, 2 * width - x, 2 * height - y]);
    for (const line of parts.circle) setAttribute(line, "d", path);
  };
  map.on("postrender", place);
  return {
    show(fix, trouble, now) {
      at = fix && fromLonLat([fix.lon, fix.lat]);
      if (fix !== null) {
        const state = freshness(fix, trouble, now);
        const rounded = fix.error > 0 && fix.error < maxCircleMetres && state !== "old";
        // The error of an old fix does not include how far the user has walked since.
        circle = rounded ? circleOf(fix, circle, map.getView().getResolution() ?? 0) : null;
        setAttribute(parts.box, "data-state", state);
        setAttribute(parts.box, "data-mark", fix.live ? "live" : "not-live");
        // Only a fixed RTK solution has a dot at its center, and only an error that somebody stated an unbroken edge.
        setAttribute(parts.box, "data-settled", String(fix.live && fix.kind === "rtk-fixed" && state === "fresh"));
        setAttribute(parts.box, "data-rough", String(fix.grounds === "hdop"));
        const label = labelOf(fix, state, now);
        setHidden(parts.label, label === "");
        setText(parts.label, label);
      }
      keepClear(now);
      place();
    },
  };
}

/** Whether a box around a pixel lies in the free map: words that its edge cuts tell half. */
export const isWithin = (box: LabelBox, x: number, y: number, [left, top, right, bottom]: LabelBox): boolean =>
  x + box[0] >= left && y + box[1] >= top && x + box[2] <= right && y + box[3] <= bottom;

/** From the mark to the middle or the edge of its label, in pixels. */
const labelAway = 26;

/** The side of the mark on which its label covers nothing, "none" for no such side. */
export function sideOf([width = 0, height = 0]: number[], isFree: (box: LabelBox) => boolean): string {
  const [w, h, away] = [width / 2, height / 2, labelAway];
  const boxes: [string, LabelBox][] = [
    ["below", [-w, away - h, w, away + h]], ["above", [-w, -away - h, w, -away + h]],
    ["right", [away, -h, away + width, h]], ["left", [-away - width, -h, -away, h]],
  ];
  return boxes.find(([, box]) => isFree(box))?.[0] ?? "none";
}

const distance = (a: Coordinate, b: Coordinate): number => Math.hypot((a[0] ?? 0) - (b[0] ?? 0), (a[1] ?? 0) - (b[1] ?? 0));

/** An error circle: its corners from its center, in projected meters. */
interface Circle {
  error: number;
  lat: number;
  ring: Coordinate[];
}

/** The circle of a fix; the one before where nobody could see the difference. */
function circleOf({ lon, lat, error }: Fix, before: Circle | null, resolution: number): Circle {
  const seen = (leastMove * resolution * Math.cos((lat * Math.PI) / 180)) / devicePixelRatio;
  if (before !== null && Math.abs(before.error - error) < seen && Math.abs(before.lat - lat) < 0.001) return before;
  const [x = 0, y = 0] = fromLonLat([lon, lat]);
  return { error, lat, ring: circleAround([lon, lat], error).map((p) => fromLonLat(p)).map(([u = 0, v = 0]) => [u - x, v - y]) };
}

function labelOf(s: Fix, state: Freshness, now: number): string {
  const words = [markerText(s), ...doubts(s)];
  if (state === "old") words.push(agoText(ageOf(s, now)));
  return words.filter((w) => w !== "").join(", ");
}

const twice = (tag: string, attributes: Record<string, string | number>): SVGElement[] =>
  ["casing", "edge"].map((kind) => svg(tag, { ...attributes, class: kind }));

// A live fix is a disc with arms, unlike any reading or crossing. One that is recorded,
// simulated, typed in or estimated is a hollow diamond. Which of them is seen, and how
// strongly, is in the style sheet.
function makeParts(): { box: HTMLElement; circle: SVGElement[]; label: HTMLElement } {
  const circle = twice("path", { d: "" });
  const label = make("span", "");
  const box = make("div", "");
  box.className = "position-mark";
  box.hidden = true;
  box.setAttribute("aria-hidden", "true"); // the bar says it
  box.append(svg("svg", {},
    svg("g", { class: "circle" }, ...circle),
    svg("g", { class: "arms" }, ...twice("path", { d: "M0-21V21M-21 0H21" })),
    svg("g", { class: "disc" }, ...twice("circle", { r: 9 })),
    svg("g", { class: "diamond" }, ...twice("path", { d: "M0-13L13 0L0 13L-13 0Z" })),
    svg("circle", { class: "center", r: 3 }),
  ), label);
  return { box, circle, label };
}

/** A sample of the mark, for the legend. */
export function markSample(mark: "live" | "not-live", state: Freshness, settled: boolean): HTMLElement {
  const { box } = makeParts();
  box.hidden = false;
  for (const [name, value] of Object.entries({ mark, state, settled, rough: false })) box.setAttribute(`data-${name}`, String(value));
  return make("div", "swatch of-position", box);
}
