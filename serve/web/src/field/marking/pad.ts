// The pad at the thumb: what the next mark says, the keys of its depth, and the button that keeps it. It only shows and
// tells what was pressed. Built once; a press never moves what is pressed next.
import { byId, make, makeButton, setAttribute, setHidden, setText } from "../../shared/lib/dom";
import type { Units } from "../../shared/lib/units";
import { say } from "../../shared/lib/words";
import { type DepthKey, padUnits } from "./depth";

export type Chip = "kind" | "utility" | "method" | "reference" | "more";

/** What the pad shows. */
export interface PadState {
  chips: Record<Chip, string>;
  /** the colors of the utility */
  tag: { colour: string; casing: string; letter: string };
  place: string;
  /** what is doubtful about the place */
  doubts: string[];
  /** what was kept, and what does not fit; alarm for what the crew must know before it walks on */
  told: string;
  alarm: boolean;
  canUndo: boolean;
  /** the run of readings that goes on; "" for none */
  run: string;
  /** whether a depth belongs to it; depths near the last one; and whether the keys are shown, else those stand for them */
  hasDepth: boolean;
  near: string[];
  keys: boolean;
  /** whether points are taken one after another */
  hasPoints: boolean;
  take: string;
  /** the depth on the button that keeps, "" for none; and its words */
  depth: string;
  keep: string;
  busy: boolean;
}

interface PadActions {
  chip(which: Chip): void;
  place(): void;
  endRun(): void;
  key(key: DepthKey): void;
  near(index: number): void;
  /** Shows the keys beside the depths near the last one, or hides them. */
  keys(): void;
  take(): void;
  undo(): void;
  keep(): void;
  done(): void;
}

interface Pad {
  box: HTMLElement;
  show(state: PadState): void;
}

/** How many depths near the last one are offered. */
export const nearCount = 5;

export function makePad(units: Units, on: PadActions): Pad {
  const chips = Object.fromEntries((["kind", "utility", "method", "reference", "more"] as const).map((which) =>
    [which, Object.assign(makeButton([], () => on.chip(which)), { id: `pad-${which}` })])) as Record<Chip, HTMLButtonElement>;
  const tag = make("span", "tag");
  tag.setAttribute("aria-hidden", "true");
  const utility = make("span", "");
  chips.utility.append(tag, utility);
  const [told, undo] = [make("p", ""), makeButton([say("marking.undo")], on.undo)];
  told.setAttribute("role", "status");
  const tell = make("div", "pad-told", told, undo);
  const [said, doubts] = [make("b", ""), make("span", "")];
  const place = makeButton([said, doubts], on.place);
  const end = makeButton([], on.endRun);
  const { more, ...what } = chips;
  const row = make("div", "pad-place", place, end, more);
  const near = Array.from({ length: nearCount }, (_, i) => makeButton([], () => on.near(i)));
  const all = Object.assign(makeButton([say("marking.keys")], on.keys), { id: "pad-all" });
  const nearRow = make("div", "pad-near", ...near, all);
  const keys = depthKeys(units, on.key);
  const [depth, words] = [make("b", ""), make("span", "")];
  const keep = Object.assign(makeButton([depth, words], on.keep), { id: "pad-keep", className: "take" });
  const take = Object.assign(makeButton([], on.take), { id: "pad-take" });
  const done = Object.assign(makeButton([say("marking.done")], on.done), { id: "pad-done" });
  place.id = "pad-at";
  end.id = "pad-end";
  undo.id = "pad-undo";
  const last = make("div", "pad-last", done, take, ...keys.last, keep);
  const box = make("section", "pad", tell, make("div", "pad-chips", ...Object.values(what)), row, nearRow, keys.rows, last);
  Object.assign(box, { id: "pad", hidden: true });
  box.setAttribute("aria-label", say("marking.pad"));
  byId("tool").append(box);
  return {
    box,
    show(s) {
      for (const which of ["kind", "method", "reference", "more"] as const) {
        setText(chips[which], s.chips[which]);
        setHidden(chips[which], s.chips[which] === "");
      }
      setText(utility, s.chips.utility);
      setText(tag, s.tag.letter);
      tag.style.background = s.tag.colour;
      tag.style.color = s.tag.casing;
      setText(told, s.told);
      setHidden(tell, s.told === "");
      setHidden(undo, !s.canUndo);
      setAttribute(tell, "data-alarm", String(s.alarm));
      setText(said, s.place);
      setText(doubts, s.doubts.join(" "));
      setAttribute(place, "data-doubtful", String(s.doubts.length > 0));
      setText(end, s.run);
      setHidden(end, s.run === "");
      near.forEach((b, i) => setText(b, s.near[i] ?? ""));
      setHidden(nearRow, s.near.length === 0 || !s.hasDepth);
      for (const e of [keys.rows, ...keys.last]) setHidden(e, !s.hasDepth || !s.keys);
      setAttribute(all, "aria-expanded", String(s.keys));
      setHidden(take, !s.hasPoints);
      setText(take, s.take);
      setText(depth, s.depth);
      setText(words, s.keep);
      keep.disabled = s.busy;
    },
  };
}

/** The keys of a depth: two rows of digits and units; the point and the way back stand beside the button that keeps. */
function depthKeys(units: Units, press: (key: DepthKey) => void): { rows: HTMLElement; last: HTMLElement[] } {
  const [big, small] = padUnits[units];
  const key = (k: DepthKey, text: string, name = "") => {
    const b = makeButton([text], () => press(k));
    b.dataset.key = k;
    if (name !== "") b.setAttribute("aria-label", name);
    return b;
  };
  const digits = (all: string) => [...all].map((d) => key(d as DepthKey, d));
  return {
    rows: make("div", "pad-keys", ...digits("12345"), key("big", big), ...digits("67890"), key("small", small)),
    last: [key(".", "."), key("back", "⌫", say("marking.key_back"))],
  };
}
