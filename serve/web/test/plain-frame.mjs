// The frame round the map: what is free of it, how high a sheet opens, which notice is shown, which pixel is told.
import assert from "node:assert/strict";
import test from "node:test";
import { load, table } from "./load.mjs";

const { insetsOf, leavesRoom } = await load("shared/map/freemap.ts");
const { sheetHeights, settledAt } = await load("shared/shell/sheetheight.ts");
const { chooseNotice, foldAfterMs } = await load("shared/shell/notice.ts");
const { pixelTold } = await load("shared/map/readout.ts");

const box = (left, top, right, bottom) => ({ left, top, right, bottom });
const map = box(0, 44, 390, 750);
table("free map", [
  ["nothing over it", insetsOf(map, []), [0, 0, 0, 0]],
  ["a line at the top", insetsOf(map, [box(0, 44, 390, 92)]), [48, 0, 0, 0]],
  ["buttons in a corner", insetsOf(map, [box(230, 702, 390, 750)]), [0, 0, 48, 0]],
  ["a sheet that reaches below the map", insetsOf(map, [box(0, 500, 390, 800)]), [0, 0, 250, 0]],
  ["a sheet at the left of a phone on its side", insetsOf(box(80, 44, 844, 390), [box(0, 44, 300, 390)]), [0, 0, 0, 220]],
  ["a sheet beside the map", insetsOf(box(400, 44, 1440, 850), [box(0, 44, 400, 800)]), [0, 0, 0, 0]],
  ["what has no size", insetsOf(map, [box(0, 44, 390, 44), box(10, 60, 10, 90)]), [0, 0, 0, 0]],
  ["the deeper of two", insetsOf(map, [box(0, 44, 390, 92), box(0, 44, 390, 104)]), [60, 0, 0, 0]],
  ["a full sheet leaves no room", leavesRoom(map, [0, 0, 650, 0]), false],
]);

test("a sheet at its first height leaves half of the screen, and can be read", () => {
  for (const [screen, top, bottom] of [[844, 44, 800], [640, 44, 596], [1180, 44, 1136], [568, 48, 520]]) {
    const { first, full } = sheetHeights(top, bottom, screen);
    assert.ok(bottom - first - top >= screen * 0.5, `${screen}: ${first}`);
    assert.ok(first >= 160 && full > first && bottom - full - top >= 44, `${screen}: ${first} ${full}`);
  }
});
const heights = { first: 300, full: 700 };
table("a drag", [
  ["let go where it was", settledAt(300, 0, heights), "first"],
  ["a little up", settledAt(360, 0, heights), "first"],
  ["far up", settledAt(520, 0, heights), "full"],
  ["a flick up", settledAt(360, 1.5, heights), "full"],
  ["down to little", settledAt(150, 0, heights), "closed"],
  ["a flick down", settledAt(280, -1.2, heights), "closed"],
  ["from full, halfway", settledAt(450, 0, heights), "first"],
]);

const since = 1000;
const one = (id, stays = false) => ({ id, since, stays });
table("notice", [
  ["none", chooseNotice([], since), null],
  ["in full at first", chooseNotice([one("hidden")], since + 100), { id: "hidden", folded: false, foldsIn: foldAfterMs - 100 }],
  ["folded after a while", chooseNotice([one("hidden")], since + foldAfterMs), { id: "hidden", folded: true, foldsIn: 0 }],
  ["one at a time, the first of the order", chooseNotice([one("hidden"), one("loading"), one("no-picture")], since).id, "no-picture"],
  ["what somebody has to answer stays", chooseNotice([one("hidden"), one("pack", true)], since + 10 * foldAfterMs), { id: "pack", folded: false, foldsIn: Infinity }],
]);

table("the pixel told", [
  ["coarser than the picture: the screen's", pixelTold(0.5, 0.25, 0, 1), { metres: 0.5, times: 1, somewhere: false }],
  ["enlarged eight times: the picture's own, never finer", pixelTold(0.03125, 0.25, 0, 1), { metres: 0.25, times: 8, somewhere: false }],
  ["in meters of the ground", pixelTold(0.03125, 0.25, 0, 0.76).metres, 0.19],
  ["enlarged more in some place", pixelTold(0.25, 0.25, 1, 1), { metres: 0.25, times: 4, somewhere: true }],
]);
