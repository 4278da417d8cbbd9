// What is changed of a drawn shape other than by its corners: chosen, taken away, another width.
import type { Draft } from "./draft";
import type { Shape } from "./shapes";
import { shapeOf, type Sketch } from "./sketch";
import type { Tools } from "./tools";

interface Edits {
  choose(i: number): void;
  remove(): void;
  /** Changes the chosen shape if it is of that kind. */
  edit(kind: Shape["kind"], change: (s: Shape) => Shape): void;
}

export function makeEdits(draft: () => Draft | null, sketch: Sketch, tools: Tools, laidDown: () => void): Edits {
  const chosen = () => (sketch.chosen === null ? null : shapeOf(sketch.chosen));
  return {
    choose(i) {
      const s = draft()?.history.now[i];
      if (tools.kind !== null) laidDown();
      tools.choose(sketch.shapes.getFeatures().find((f) => shapeOf(f) === s) ?? null);
    },
    remove() {
      const [d, s] = [draft(), chosen()];
      if (d === null || s === null) return;
      tools.choose(null);
      d.history.set(d.history.now.filter((o) => o !== s));
    },
    edit(kind, change) {
      const [d, s] = [draft(), chosen()];
      if (d === null || s === null || s.kind !== kind) return;
      d.history.set(d.history.now.map((o) => (o === s ? change(s) : o)));
    },
  };
}
