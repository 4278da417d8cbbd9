// Strokes across a line: the ticks of a utility, and those of a state.
import type { LineSymbol } from "../lib/api";
import { theme } from "../lib/theme";
import { inGap, type Path, placeAt, type runsOn, type Span } from "./path";
import type { Stage } from "./stage";

/** A line, what of it is in sight, and the gaps that have no ticks. */
interface Ticked {
  path: Path;
  runs: ReturnType<typeof runsOn>;
  gaps: Span[];
}

/** Adds the ticks of a line to the canvas's path. They are where the line itself puts them, so that they stay when the map moves. */
export function traceTicks(stage: Stage, { path, runs, gaps }: Ticked, ticks: LineSymbol["ticks"], every: number): void {
  if (!ticks || ticks.length === 0 || !(every >= 8)) return;
  const unit = theme().weight * stage.resolution;
  const period = every * unit;
  for (const { from, to } of runs) {
    for (const t of ticks) {
      const first = (0.5 + t.at / every) * period;
      for (let s = first + Math.ceil((from - first) / period) * period; s <= to; s += period) {
        if (!inGap(s, gaps)) tickAt(stage, placeAt(path, s), t);
      }
    }
  }
}

function tickAt(stage: Stage, { x, y, dx, dy }: ReturnType<typeof placeAt>, t: NonNullable<LineSymbol["ticks"]>[number]): void {
  const { context, ratio, left, top, scale } = stage;
  const long = t.length * theme().weight * ratio;
  const angle = Math.atan2(-dy, dx) + ((90 + t.lean) * Math.PI) / 180;
  const [u, v] = [Math.cos(angle) * long, Math.sin(angle) * long];
  const [px, py] = [(x - left) * scale, (top - y) * scale];
  context.moveTo(t.left ? px - u : px, t.left ? py - v : py);
  context.lineTo(t.right ? px + u : px, (t.right ? py + v : py) + (t.length === 0 ? 0.01 : 0));
}
