// What is under a finger is not taken away: a redraw waits until the press has been made.

/** A press that takes longer than this is none of a button; the click of a lifted finger comes sooner than that, in ms. */
const longest = { press: 1500, click: 300 };

let presses = 0;
let under = 0; // the press under way, by its number; 0 for none
const waiting = new Set<() => void>();

function end(press: number): void {
  if (press !== under) return;
  under = 0;
  const all = [...waiting];
  waiting.clear();
  for (const redraw of all) redraw();
}

/** Ends the press that is under way, if none has begun by then. */
function endIn(ms: number): void {
  const press = under;
  setTimeout(end, ms, press);
}

addEventListener("pointerdown", (e) => {
  if (!(e.target instanceof Element) || e.target.closest("button, a, label, summary, select") === null) return;
  under = ++presses;
  endIn(longest.press);
}, true);
for (const lifted of ["pointerup", "pointercancel"]) addEventListener(lifted, () => endIn(longest.click), true);
addEventListener("click", () => endIn(0), true);

/** Redraws now, or once a press that is under way has been made; a redraw that waits already waits once. */
export function afterPress(redraw: () => void): void {
  if (under === 0) redraw();
  else waiting.add(redraw);
}
