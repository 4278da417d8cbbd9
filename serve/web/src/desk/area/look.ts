// What the server says of a drawing once it rests: what is odd, how large it is, where its margin ends.
import Feature from "ol/Feature";
import { type Geometry, MultiPolygon, Point } from "ol/geom";
import type { LonLat } from "../../shared/coords/geodesic";
import type { Units } from "../../shared/lib/units";
import { drawing, planned } from "../app/cell";
import type { Desk } from "../app/desk";
import type { Odd } from "./bar";
import { lengthTyped } from "./ground";
import type { Shape } from "./shapes";
import { type Sketch, toMap } from "./sketch";

interface LookedAt {
  odd: Odd[];
  /** in words; "" while it is not known */
  area: string;
  outline: LonLat[][][];
}

interface Looked {
  job: string | null;
  units: Units;
  margin: string;
  shapes: Shape[];
}

/** The server is asked once nothing has changed for so long, in milliseconds. */
const rest = 300;
const nothing: LookedAt = { odd: [], area: "", outline: [] };

interface Look {
  readonly now: LookedAt;
  soon(): void;
  /** Takes what was said off the map. */
  forget(): void;
}

export function makeLook(desk: Desk, sketch: Sketch, what: () => Looked | null, told: () => void): Look {
  let now = nothing;
  let timer: ReturnType<typeof setTimeout> | undefined;
  let asked: AbortController | null = null;

  async function look(): Promise<void> {
    const at = what();
    if (at === null) return;
    const mine = asked = new AbortController();
    const known = at.shapes.length > 0 && lengthTyped(at.margin) !== null;
    const said = known ? await desk.api.post<LookedAt>("/api/area/look", { ...at, job: at.job ?? "" }, mine.signal) : nothing;
    if (mine !== asked || what() === null) return;
    now = said;
    draw();
    told();
  }

  /** Where edges cross, and the margin, unless the plan of what is drawn shows it. */
  function draw(): void {
    sketch.margin.clear();
    sketch.faults.clear();
    if (what() === null) return;
    if (drawing.value === null || planned.value === null) sketch.margin.addFeature(new Feature<Geometry>(new MultiPolygon(now.outline.map((p) => p.map((r) => r.map(toMap))))));
    sketch.faults.addFeatures(now.odd.filter((o) => o.wrong).map((o) => new Feature<Geometry>(new Point(toMap(o.at)))));
  }
  planned.on(draw);

  const stop = () => {
    clearTimeout(timer);
    asked?.abort();
    asked = null;
  };
  return {
    get now() {
      return now;
    },
    soon() {
      stop();
      timer = setTimeout(() => void look().catch((e: unknown) => (e instanceof DOMException && e.name === "AbortError" ? undefined : desk.fail(e))), rest);
    },
    forget() {
      stop();
      now = nothing;
      draw();
    },
  };
}
