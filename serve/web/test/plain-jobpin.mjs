// Where the pin of a job stands that is off the screen or too small on it.
import { load, table } from "./load.mjs";

const { pinPlace } = await load("shared/map/jobpin.ts");
const free = [0, 0, 390, 600];
const round = (p) => p && { ...p, x: Math.round(p.x), y: Math.round(p.y) };
table("the pin of the job", [
  ["the job is seen", pinPlace([100, 100, 200, 300], free), null],
  ["a long narrow one is seen too", pinPlace([100, 100, 104, 300], free), null],
  ["part of it is seen", pinPlace([-100, 100, 50, 300], free), null],
  ["too small: over it", pinPlace([190, 300, 200, 310], free), { x: 195, y: 265, turn: null }],
  ["off at the right: an arrow to the right", pinPlace([500, 290, 600, 310], free), { x: 346, y: 300, turn: 90 }],
  ["off at the left", pinPlace([-300, 290, -200, 310], free), { x: 44, y: 300, turn: -90 }],
  ["off below", pinPlace([190, 900, 200, 990], free), { x: 195, y: 574, turn: 180 }],
  ["off above at the left", round(pinPlace([-210, -228, -202, -228], free)), { x: 44, y: 26, turn: -45 }],
  ["what lies over the map is no place for it", pinPlace([190, 900, 200, 990], [0, 60, 390, 300]), { x: 195, y: 274, turn: 180 }],
]);
