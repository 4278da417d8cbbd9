// Strokes across a line: the ticks of a utility, and those of a state.
import type { LineSymbol } from "../lib/api";
import { theme } from "../lib/theme";
import { inGap, type Path, placeAt, type runsOn, type Span } from "./path";
import type { Stage } from "./stage";

type Ticks = NonNullable<LineSymbol["ticks"]>;

/** A line, what of it is in sight, and the gaps that have no ticks; `clear` tells where they would lie under another mark. */
interface Ticked {
  path: Path;
  runs: ReturnType<typeof runsOn>;
  gaps: Span[];
  clear?: ((x: number, y: number, long: number) => boolean) | undefined;
}

/** Where ticks stand along a line, in pixels from its begin: the first group, and how far from one to the next. */
interface Rhythm {
  period: number;
  ticks: [at: number, tick: Ticks[number]][];
}

/**
 * The rhythm of ticks on a dashed line: strokes stand in the middle of dashes, dots in gaps, and
 * every group alike. A line of dots has no dots between its own.
 */
export function rhythmOf(ticks: LineSymbol["ticks"], every: number, dash: number[]): Rhythm {
  const all = ticks ?? [];
  const [on = 0, off = 0] = dash;
  const step = on + off;
  if (dash.length < 2 || !(step > 0)) return { period: every, ticks: all.map((t) => [every / 2 + t.at, t]) };
  const groups = Math.max(1, Math.round(every / step));
  const stroke = all.find((t) => t.length > 0);
  const middle = Math.floor(groups / 2) * step + on / 2;
  const atGap = (from: number) => { // the gap next to a place on its side of the stroke; without a stroke the next ones
    const steps = Math.max(0, Math.round((Math.abs(from) - step / 2) / step)) + 0.5;
    return (from < 0 ? -steps : steps) * step;
  };
  let dots = 0;
  return {
    period: groups * step,
    ticks: all.flatMap((t): [number, Ticks[number]][] => {
      if (t.length > 0) return [[middle + t.at - (stroke?.at ?? 0), t]];
      if (on < 1) return [];
      return [[middle + (stroke ? atGap(t.at - stroke.at) : (dots++ + 0.5) * step), t]];
    }),
  };
}

/** Adds the ticks of a line to the canvas's path. They are where the line itself puts them, so that they stay when the map moves. */
export function traceTicks(stage: Stage, { path, runs, gaps, clear }: Ticked, ticks: LineSymbol["ticks"], every: number, dash: number[] = []): void {
  if (!ticks || ticks.length === 0 || !(every >= 8)) return;
  const { weight, size } = theme();
  const unit = weight * stage.resolution;
  const rhythm = rhythmOf(ticks, every, dash);
  const period = rhythm.period * unit;
  for (const { from, to } of runs) {
    for (const [at, t] of rhythm.ticks) {
      const first = at * unit;
      for (let s = first + Math.ceil((from - first) / period) * period; s <= to; s += period) {
        if (inGap(s, gaps)) continue;
        const place = placeAt(path, s);
        if (!clear || clear(place.x, place.y, ((t.length + 2) * weight) / size)) tickAt(stage, place, t);
      }
    }
  }
}

function tickAt(stage: Stage, { x, y, dx, dy }: ReturnType<typeof placeAt>, t: Ticks[number]): void {
  const { context, ratio, left, top, scale } = stage;
  const long = t.length * theme().weight * ratio;
  const angle = Math.atan2(-dy, dx) + ((90 + t.lean) * Math.PI) / 180;
  const [u, v] = [Math.cos(angle) * long, Math.sin(angle) * long];
  const [px, py] = [(x - left) * scale, (top - y) * scale];
  context.moveTo(t.left ? px - u : px, t.left ? py - v : py);
  context.lineTo(t.right ? px + u : px, (t.right ? py + v : py) + (t.length === 0 ? 0.01 : 0));
}
