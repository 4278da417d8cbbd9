// The part of the map that nothing lies over: there the job is fitted, the position followed,
// the cross drawn and a tapped thing brought.
import { byId } from "../lib/dom";

/** A rectangle on the screen, in pixels. */
export type Box = Pick<DOMRect, "left" | "top" | "right" | "bottom">;
/** What is covered of the map at its top, right, bottom and left, in pixels. */
export type Insets = [number, number, number, number];

/** The least that counts as free, in pixels: under a full sheet the map keeps the middle it had. */
const least = 96;

/** The insets that keep clear of all covers; each is cleared at the edge where that costs least. */
export function insetsOf(map: Box, covers: Box[]): Insets {
  const [width, height] = [map.right - map.left, map.bottom - map.top];
  const insets: Insets = [0, 0, 0, 0];
  for (const c of covers) {
    const depths = [
      Math.min(c.bottom, map.bottom) - map.top, map.right - Math.max(c.left, map.left),
      map.bottom - Math.max(c.top, map.top), Math.min(c.right, map.right) - map.left,
    ];
    if (c.right <= c.left || c.bottom <= c.top || depths.some((d) => d <= 0)) continue;
    const costs = depths.map((d, side) => d * (side % 2 === 0 ? width : height));
    const side = costs.indexOf(Math.min(...costs));
    insets[side] = Math.max(insets[side] ?? 0, depths[side] ?? 0);
  }
  return insets;
}

/** Whether insets leave anything of a map worth a middle. */
export function leavesRoom(map: Box, [top, right, bottom, left]: Insets): boolean {
  return map.right - map.left - left - right >= least && map.bottom - map.top - top - bottom >= least;
}

/**
 * What lies over the map for long, and what comes and goes with a tap. (A toast goes by itself: for it the map stays.)
 * What lies in a corner only is cleared by a job that is fitted; the middle stays.
 */
const lasting = ["#errorbar", "#position-back", "#notices", "#controls"];
const passing = ["#sheet"];
const corner = ["#mark-open"];

const boxes = (all: string[]): Box[] => all.flatMap((s) => document.querySelector(s)?.getBoundingClientRect() ?? []);

/** What lies over the map now, and the cross where it is shown, in pixels from its upper left corner. */
export function coversNow(): { covers: Box[]; cross: Box | undefined } {
  const map = byId("map").getBoundingClientRect();
  const onMap = (all: string[]) => boxes(all).filter((b) => b.right > b.left && b.bottom > b.top)
    .map((b) => ({ left: b.left - map.left, top: b.top - map.top, right: b.right - map.left, bottom: b.bottom - map.top }));
  return { covers: onMap([...lasting, ...passing, ...corner, "#job-pin"]), cross: onMap(["#cross"])[0] };
}

/**
 * Tells `changed` the insets, now and whenever they change, and those that keep clear of corners
 * too; gives the function that looks at once.
 * `settle` is true when what lies over the map for long has changed, and no sheet is open: then
 * a job that filled it may be fitted anew.
 */
export function watchFreeMap(changed: (insets: Insets, all: Insets, settle: boolean) => void): () => void {
  const map = byId("map");
  const stage = byId("stage");
  let [before, longBefore] = ["", ""];
  const measure = () => {
    liftFloats(stage);
    const whole = map.getBoundingClientRect();
    const long = insetsOf(whole, boxes([...lasting, ...corner]));
    const insets = insetsOf(whole, boxes([...lasting, ...passing]));
    const all = insetsOf(whole, boxes([...lasting, ...passing, ...corner]));
    if (!leavesRoom(whole, insets)) return;
    const open = document.body.dataset.sheet === "open";
    const [now, longNow] = [[whole.width, whole.height, ...insets, ...all].join(), [whole.width, whole.height, ...long].join()];
    if (now === before) return;
    const settle = !open && longNow !== longBefore;
    before = now;
    if (!open) longBefore = longNow;
    const [top, right, bottom, left] = insets;
    stage.style.setProperty("--middle-x", `${(whole.width + left - right) / 2}px`);
    stage.style.setProperty("--middle-y", `${(whole.height + top - bottom) / 2}px`);
    changed(insets, all, settle);
  };
  const sizes = new ResizeObserver(measure);
  for (const s of ["#map", "#over", "#floats", "#notices", "#controls", "#sheet"]) sizes.observe(byId(s.slice(1)));
  measure();
  return measure;
}

/** Keeps what floats over the foot of the map clear of the sheet. */
function liftFloats(stage: HTMLElement): void {
  const map = stage.getBoundingClientRect();
  const [, , bottom, left] = insetsOf(map, [byId("sheet").getBoundingClientRect()]);
  stage.style.setProperty("--covered", `${bottom}px`);
  stage.style.setProperty("--aside", `${left}px`);
}
