// Less motion where the device asks for it: a movement of the map is a jump, no drag glides on,
// and no style sheet animates. Everything that moves the map goes through this view.
import Kinetic from "ol/Kinetic";
import View, { type AnimationOptions } from "ol/View";
import DragPan from "ol/interaction/DragPan";
import { defaults } from "ol/interaction/defaults";
import type Interaction from "ol/interaction/Interaction";
import type Collection from "ol/Collection";
import "./motion.css";

/** Whether this device asks for less motion now. */
const lessMotion = (): boolean => matchMedia("(prefers-reduced-motion: reduce)").matches;

/** A view whose animations take no time where less motion is asked for. */
export class CalmView extends View {
  override animateInternal(...all: (AnimationOptions | ((done: boolean) => void))[]): void {
    super.animateInternal(...all.map((a) => (typeof a === "function" || !lessMotion() ? a : { ...a, duration: 0 })));
  }
}

class Glide extends Kinetic {
  override end(): boolean {
    return !lessMotion() && super.end();
  }
}

/** How a hand moves the map, which does not turn. */
export function calmInteractions(): Collection<Interaction> {
  const all = defaults({ altShiftDragRotate: false, pinchRotate: false, dragPan: false });
  all.insertAt(1, new DragPan({ kinetic: new Glide(-0.005, 0.05, 100) })); // at its usual place and pace
  return all;
}
