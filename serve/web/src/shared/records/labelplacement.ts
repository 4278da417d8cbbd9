// Places marks with text where they cover no dot and no other mark: numbers of crossings, flags,
// depths, and the letters along lines.
import { around, awayFrom, besideDot, type Box, boxOf, coversDot, type Dot, GridIndex, grown, isSame, type Label, overlap, sides } from "./boxes";
import { cheapest, type CostsOf, labelLeader, leaderBoxes, leaderCost, ledLabels, type Offset, pixelCost } from "./leaders";

/** A mark that stands away from its place, and from where on its leader is drawn, in pixels; 0, 0 stands at its place. */
export interface Led {
  to: Offset;
  from: number;
}

/** Beside a label without a leader no other dot is nearer than this, in pixels, edge to edge: whose depth it is would not be plain. And beside one with a leader. */
const plainGap = 12;
const ledGap = 5;
/** What is between two labels costs: nearer than this, in pixels, they look like one. */
const apart = 8;
const together = 3;
/** How far a label is led while nothing cuts it, on a grid of some pixels. */
const reach = 60;
const step = 12;

/** All that is placed at one resolution. */
export class Placement {
  private readonly dots = new GridIndex<Dot>();
  private readonly taken = new GridIndex<Box>();
  private readonly leaders = new GridIndex<Box>();
  private readonly fixed = new GridIndex<Box>();

  addDot(dot: Dot): void {
    this.dots.add(dot, around(dot));
  }

  /** Whether the dot of a record is nearer to a place than this. */
  hasDot({ x, y }: { x: number; y: number }, within: number): boolean {
    return this.dots.some([x - within, y - within, x + within, y + within], (d) => !d.other && !d.added && Math.hypot(d.x - x, d.y - y) < within);
  }

  /** Whether a box covers no dot and no mark but the one that has taken the box `own`. */
  isFree(box: Box, own?: Box): boolean {
    return !this.dots.some(box, (d) => coversDot(box, d)) && !this.taken.some(box, (b) => overlap(box, b) && !(own && isSame(b, own)))
      && !this.leaders.some(box, (b) => overlap(box, b));
  }

  /** Whether a box at a dot is plainly its label: no other dot is near. */
  isPlain(box: Box, dot: Dot, led: boolean): boolean {
    const gap = led ? ledGap : plainGap;
    return !this.dots.some(grown(box, gap), (d) => !d.other && Math.hypot(d.x - dot.x, d.y - dot.y) >= 1 && awayFrom(box, d) < d.radius + gap);
  }

  /** Takes a box if it is free. */
  take(box: Box): boolean {
    if (!this.isFree(box)) return false;
    this.taken.add(box, box);
    return true;
  }

  /** Takes a box for a mark that ticks of lines give way to, whatever is under it. */
  fix(box: Box): void {
    this.taken.add(box, box);
    this.fixed.add(box, box);
  }

  /** Whether ticks may be drawn at a place: those under a dot, a number or a flag would look like parts of it. */
  hasTicks(x: number, y: number, long: number): boolean {
    const box: Box = [x - long, y - long, x + long, y + long];
    return !this.dots.some(box, (d) => Math.hypot(d.x - x, d.y - y) < d.radius + long) && !this.fixed.some(box, (b) => awayFrom(b, { x, y }) < long);
  }

  /** Whether a circle covers no dot and no mark. */
  isCircleFree(dot: Dot): boolean {
    return !this.dots.some(around(dot), (d) => Math.hypot(d.x - dot.x, d.y - dot.y) < d.radius + dot.radius)
      && !this.taken.some(around(dot), (b) => coversDot(b, dot)) && !this.leaders.some(around(dot), (b) => coversDot(b, dot));
  }

  /** Takes a circle round a place if it is free. */
  takeCircle(x: number, y: number, radius: number): boolean {
    if (!this.isCircleFree({ x, y, radius })) return false;
    this.addDot({ x, y, radius, other: true });
    return true;
  }

  /** Takes a circle away from its place, with a leader that covers no dot either; null where there is no room. */
  leadCircle(x: number, y: number, radius: number, ways: Offset[], costsOf: CostsOf): Led | null {
    const all = ways.map((to) => {
      const circle = { x: x + to[0], y: y + to[1], radius };
      return { to, circle, box: around(circle), cost: Math.hypot(...to) * pixelCost };
    });
    const best = cheapest(all, costsOf, ({ circle }) => this.isCircleFree(circle), ({ to }) => this.leaderTo(x, y, to, radius));
    if (!best) return null;
    this.addDot({ ...best.one.circle, other: true });
    this.addLeader(best.found.boxes);
    return { to: best.one.to, from: best.found.from };
  }

  /** The leader from a place to a mark that reaches so far towards it: it begins beside the dots that lie on the place. */
  leaderTo(x: number, y: number, to: Offset, markReach: number): { from: number; boxes: Box[] } | null {
    const end = Math.hypot(...to) - markReach;
    const isClear = (b: Box) => !this.dots.some(b, (d) => !d.other && coversDot(b, d));
    const boxes = leaderBoxes(x, y, to, 0, end);
    const first = boxes.findIndex(isClear);
    const clear = boxes.slice(first);
    return first >= 0 && clear.length > 1 && clear.every((b) => this.isFree(b)) ? { from: first * 4, boxes: clear } : null;
  }

  addLeader(boxes: Box[]): void {
    for (const b of boxes) this.leaders.add(b, b);
  }

  /**
   * The label of a dot, where it covers no dot and no mark, is plainly its own, and costs least: on
   * a side, of which an earlier one is better at the same cost, or where `leads` away with a line to
   * it. null where the label is hidden: no such place, or its dot is half under another. Zooming in
   * separates them.
   */
  label(dot: Dot, width: number, costsOf: CostsOf = (boxes) => boxes.map(() => 0), leads = true): Label | null {
    const halfHidden = this.dots.some(around(dot), (d) => {
      const away = Math.hypot(d.x - dot.x, d.y - dot.y);
      return !d.other && away > 0 && away < dot.radius;
    });
    if (halfHidden) return null;
    const place = (label: Label, cost: number) => ({ label, cost, box: boxOf(label, width, dot) });
    const all = sides.map((side, i) => place(besideDot(dot, width, side), i / 2));
    if (leads) for (const { label, away } of ledPlaces(width, dot.radius)) all.push(place(label, leaderCost + away * pixelCost));
    const costs = (boxes: Box[]) => {
      const ofLines = costsOf(boxes);
      return boxes.map((box, i) => (ofLines[i] ?? 0) + (this.isBeside(box) ? together : 0));
    };
    const best = cheapest(all, costs, ({ label, box }) => this.isFree(box) && this.isPlain(box, dot, label.led), ({ label }) => {
      const way = label.led ? labelLeader(label, width, dot) : [];
      return way.every((b) => this.isFree(b)) ? way : null;
    });
    if (!best) return null;
    this.fix(best.one.box);
    this.addLeader(best.found);
    return best.one.label;
  }

  /** Whether another mark is so near to a box that both look like one. */
  private isBeside(box: Box): boolean {
    return this.taken.some(grown(box, apart), (b) => overlap(grown(box, apart), b));
  }
}

const ledKnown = new Map<string, ReturnType<typeof ledLabels>>();

function ledPlaces(width: number, radius: number): ReturnType<typeof ledLabels> {
  const key = `${Math.round(width)} ${radius}`;
  let known = ledKnown.get(key);
  if (known === undefined) ledKnown.set(key, (known = ledLabels(Math.round(width), radius, step, reach)));
  return known;
}
