// The cross of the keyboard: arrows move it over the map, Enter sets a corner under it, or takes a
// corner of the chosen shape up and puts it down again.
import type OLMap from "ol/Map";
import { byId, make } from "../../shared/lib/dom";
import type { LonLat } from "../../shared/coords/geodesic";
import type { Tools } from "./tools";
import { toPlace } from "./sketch";

/** How far an arrow moves the cross, in pixels: with Shift, and without. */
const steps = { fine: 1, plain: 16 };
/** The cross stays so far from the edge; the map moves instead. */
const room = 40;

interface Cross {
  /** Whether the keys are listened to. */
  listen(on: boolean): void;
}

export function makeCross(map: OLMap, tools: Tools, keys: { undo(): void; redo(): void; remove(): void; cancel(): void }): Cross {
  const [target, cross] = [byId("map"), make("div", "key-cross")];
  cross.hidden = true;
  byId("stage").append(cross);
  let listening = false;
  let at: number[] = [0, 0];
  let held: [number, number] | null = null;
  const show = (on: boolean) => {
    if (on && cross.hidden) at = (map.getSize() ?? [0, 0]).map((v) => v / 2);
    if (!on) held = null;
    cross.hidden = !on;
    place();
  };
  const place = () => {
    cross.style.transform = `translate(${at[0]}px, ${at[1]}px)`;
    cross.classList.toggle("holds", held !== null);
  };
  const under = (): LonLat => toPlace(map.getCoordinateFromPixel(at));

  function move(dx: number, dy: number): void {
    show(true);
    const size = map.getSize() ?? [0, 0];
    const want = [(at[0] ?? 0) + dx, (at[1] ?? 0) + dy];
    at = want.map((v, i) => Math.min(Math.max(v, room), (size[i] ?? 0) - room));
    const view = map.getView();
    const [ox, oy] = want.map((v, i) => v - (at[i] ?? 0));
    if (ox || oy) {
      const [x = 0, y = 0] = view.getCenter() ?? [];
      const r = view.getResolution() ?? 1;
      view.setCenter([x + (ox ?? 0) * r, y - (oy ?? 0) * r]);
      map.renderSync();
    }
    place();
  }

  function enter(): void {
    show(true);
    if (tools.kind !== null) return tools.put(under());
    if (held === null) {
      held = tools.cornerAt(at);
    } else {
      const corner = held;
      held = null;
      tools.moveCorner(corner, under());
    }
    place();
  }

  target.addEventListener("keydown", (e) => {
    if (!listening) return;
    const step = e.shiftKey ? steps.fine : steps.plain;
    const arrow = { ArrowLeft: [-1, 0], ArrowRight: [1, 0], ArrowUp: [0, -1], ArrowDown: [0, 1] }[e.key];
    const ctrl = e.ctrlKey || e.metaKey;
    const act = arrow !== undefined ? () => move((arrow[0] ?? 0) * step, (arrow[1] ?? 0) * step)
      : ctrl && e.key.toLowerCase() === "z" ? (e.shiftKey ? keys.redo : keys.undo) : ctrl && e.key.toLowerCase() === "y" ? keys.redo
        : ctrl && e.key === "Enter" ? () => tools.finish()
          : { Enter: enter, Backspace: () => (tools.kind === null ? keys.remove() : void tools.back()), Delete: () => keys.remove(), Escape: () => { show(false); keys.cancel(); } }[e.key];
    if (act === undefined) return;
    e.preventDefault();
    e.stopImmediatePropagation();
    act();
  }, { capture: true });
  map.on("pointermove", () => {
    if (!cross.hidden && held === null) show(false);
  });
  return {
    listen(on) {
      listening = on;
      if (!on) show(false);
    },
  };
}
