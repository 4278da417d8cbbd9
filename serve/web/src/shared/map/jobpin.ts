// Where the job is, while it is too small on screen to be found, or off it: a press goes back to all of it.
import { byId, make, makeButton, setHidden } from "../lib/dom";
import { say } from "../lib/words";
import type { MapView } from "./mapview";
import "./jobpin.css";

/** A rectangle on the map, in pixels. */
type Box = [left: number, top: number, right: number, bottom: number];

/** A job smaller than this is hard to find, in pixels. */
const leastSize = 40;
/** From the pin's middle to the edge of what can be seen, in pixels. */
const margin = [44, 26] as const;

/** Where the pin stands, and how its arrow is turned, in degrees from up; no turn beside the job itself. null while the job is seen. */
export function pinPlace([left, top, right, bottom]: Box, [west, north, east, south]: Box): { x: number; y: number; turn: number | null } | null {
  const off = right < west || left > east || bottom < north || top > south;
  if (!off && Math.max(right - left, bottom - top) >= leastSize) return null;
  const [x, y] = [(left + right) / 2, (top + bottom) / 2];
  const within = (v: number, low: number, high: number) => Math.max(Math.min(low, high), Math.min(Math.max(low, high), v));
  const at = { x: within(x, west + margin[0], east - margin[0]), y: within(y, north + margin[1], south - margin[1]) };
  return off ? { ...at, turn: Math.round((Math.atan2(x - at.x, at.y - y) * 180) / Math.PI) } : { x: at.x, y: within(y - leastSize, north + margin[1], south - margin[1]), turn: null };
}

/** Keeps the pin at the job. */
export function watchJob({ map, wholeJob, free, job }: MapView): void {
  const arrow = make("i", "", "↑");
  const pin = makeButton([arrow, say("page.job_pin")], wholeJob);
  pin.id = "job-pin";
  pin.setAttribute("aria-label", say("page.job_pin_does"));
  pin.hidden = true;
  byId("stage").append(pin);
  map.on("postrender", () => {
    const [west, north] = map.getPixelFromCoordinate([job[0] ?? 0, job[3] ?? 0]) ?? [];
    const [east, south] = map.getPixelFromCoordinate([job[2] ?? 0, job[1] ?? 0]) ?? [];
    if (west === undefined || north === undefined || east === undefined || south === undefined) return;
    const place = pinPlace([west, north, east, south], free());
    setHidden(pin, place === null);
    if (place === null) return;
    const [x, y] = [`${Math.round(place.x)}px`, `${Math.round(place.y)}px`];
    if (pin.style.left !== x) pin.style.left = x;
    if (pin.style.top !== y) pin.style.top = y;
    setHidden(arrow, place.turn === null);
    const turn = `rotate(${place.turn ?? 0}deg)`;
    if (arrow.style.transform !== turn) arrow.style.transform = turn;
  });
}
