// What is drawn goes to the plan: at rest, and while a corner is dragged as far as it is small enough.
import { drawing } from "../app/cell";
import type { Shape } from "./shapes";
import { shapeOf, type Sketch } from "./sketch";
import type { Live } from "./toolcontext";

/** While something is dragged the plan is told so seldom, in milliseconds. */
const pause = 150;
/** A shape with more corners is told when it rests only. */
const mostCorners = 500;

interface PlanTeller {
  /** null: nothing is drawn that is not in the job's files. */
  rests(shapes: Shape[] | null): void;
  moves(shapes: Shape[], live: Live): void;
}

/** `margin` is that of a job that is not made yet, as typed; null = the job's own. */
export function makePlanTeller(sketch: Sketch, margin: () => string | null): PlanTeller {
  let told = 0;
  return {
    rests: (shapes) => drawing.set(shapes === null ? null : { shapes, margin: margin(), resting: true }),
    moves(shapes, live) {
      if (performance.now() - told < pause) return;
      const chosen = sketch.chosen === null ? null : shapeOf(sketch.chosen);
      const [corners] = live.lines;
      if (chosen === null || corners === undefined || corners.length > mostCorners) return;
      told = performance.now();
      const now: Shape = chosen.kind === "route" ? { ...chosen, line: corners } : { ...chosen, kind: "polygon", rings: live.lines };
      drawing.set({ shapes: shapes.map((s) => (s === chosen ? now : s)), margin: margin(), resting: false });
    },
  };
}
