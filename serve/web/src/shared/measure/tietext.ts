// Ties as numbers and as text: the tapes, the swing of two of them, and how sure they are.
import { compassName, inverse, type LonLat } from "../coords/geodesic";
import { cutAngle, errorEllipse, isWeakCut, swing } from "../coords/swing";
import { depthText, type Units } from "../lib/units";
import { say } from "../lib/words";
import { type Doubt, doubtText, lengthDoubt, type Spot } from "./doubt";

/** A target and the ties from which it is found again. */
export interface Ties {
  target: Spot | null;
  ties: Spot[];
}

/** Two tapes are enough, the third checks them. */
export const mostTies = 3;

/** A tape from a tie to the target. */
interface Tape {
  metres: number;
  /** from the tie, in degrees from north */
  bearing: number;
  doubt: Doubt;
}

/** The two ties that cut best, and what they give. */
export interface Swing {
  /** which ties, by index */
  pair: [number, number];
  /** the angle between the tapes, in degrees */
  cut: number;
  /** whether the target is to the left of the way from the first tie to the second */
  left: boolean;
  /** where the arcs meet on the other side */
  other: LonLat;
  /** null where a doubt is not stated */
  ellipse: { long: number; short: number; bearing: number } | null;
}

export const tapeTo = (tie: Spot, target: Spot, units: Units): Tape => ({
  ...inverse(tie.at, target.at), doubt: lengthDoubt([tie.doubt, target.doubt], units),
});

/** The swing of the two ties whose tapes are nearest to square; null with fewer, or where the arcs cannot be told apart. */
export function bestSwing({ target, ties }: Ties, units: Units): Swing | null {
  if (target === null) return null;
  let best: Swing | null = null;
  for (let i = 0; i < ties.length; i++) {
    for (let j = i + 1; j < ties.length; j++) {
      const cut = cutAngle((ties[i] as Spot).at, target.at, (ties[j] as Spot).at);
      if (best !== null && Math.abs(cut - 90) >= Math.abs(best.cut - 90)) continue;
      best = swingOf(target, ties, [i, j], cut, units) ?? best;
    }
  }
  return best;
}

function swingOf(target: Spot, ties: Spot[], pair: [number, number], cut: number, units: Units): Swing | null {
  const [a, b] = pair.map((i) => ties[i]) as [Spot, Spot];
  const [one, two] = [tapeTo(a, target, units), tapeTo(b, target, units)];
  const both = swing(a.at, one.metres, b.at, two.metres);
  if (both === null) return null;
  const left = inverse(both[0], target.at).metres <= inverse(both[1], target.at).metres;
  const [u, v] = [one.doubt.metres, two.doubt.metres];
  const ellipse = u === null || v === null ? null : errorEllipse({ bearing: one.bearing, doubt: u }, { bearing: two.bearing, doubt: v });
  return { pair, cut, left, other: both[left ? 1 : 0], ellipse };
}

/** The name of a tie: its number, and what the person calls it. */
export const tieName = (tie: Spot, i: number): string =>
  tie.named === "" ? say("tie.tie", { n: i + 1 }) : say("tie.tie_named", { n: i + 1, name: tie.named });

/** "12′ 4″ ± 3 in": what a level tape reads, and how far off that may be. */
export const tapeText = (tape: Tape, units: Units): string =>
  say("tie.tape", { length: depthText(tape.metres, units), doubt: doubtText(tape.doubt, units) });

/** Which way the tape goes, from the tie. */
export const wayText = ({ bearing }: Tape): string =>
  say("tie.way", { direction: compassName(bearing), degrees: Math.round(bearing) % 360 });

/** What the swing gives, in sentences; none with fewer than two ties. */
export function swingText(all: Ties, units: Units): string[] {
  const found = bestSwing(all, units);
  if (found === null || all.target === null) return all.ties.length > 1 ? [say("tie.no_swing")] : [];
  const [i, j] = found.pair;
  const far = depthText(inverse(all.target.at, found.other).metres, units);
  const [one, two] = [i + 1, j + 1];
  const said = [
    say("tie.cut", { one, two, degrees: Math.round(found.cut) }),
    found.left ? say("tie.left", { one, two, far }) : say("tie.right", { one, two, far }),
    ellipseText(found, [all.ties[i] as Spot, all.ties[j] as Spot, all.target], units),
  ];
  if (isWeakCut(found.cut)) said.splice(1, 0, say("tie.weak"));
  const third = all.ties.findIndex((_, k) => k !== i && k !== j);
  if (third >= 0) said.push(thirdText(all, third, found.other, units));
  return said;
}

/** Up to this, the direction of an ellipse tells nothing. */
const nearlyRound = 1.1;

function ellipseText({ ellipse }: Swing, ends: Spot[], units: Units): string {
  if (ellipse === null) return say("tie.no_ellipse");
  const long = doubtText({ metres: ellipse.long, atLeast: ends.some((e) => e.doubt.atLeast) }, units);
  const [one, two] = [compassName(ellipse.bearing), compassName(ellipse.bearing + 180)];
  return ellipse.long < nearlyRound * ellipse.short ? say("tie.circle", { long }) : say("tie.ellipse", { long, one, two });
}

/** Whether the third tape tells the two places apart where the arcs meet. */
function thirdText({ target, ties }: Ties, k: number, other: LonLat, units: Units): string {
  const tie = ties[k] as Spot;
  const tape = tapeTo(tie, target as Spot, units);
  const away = inverse(tie.at, other).metres;
  const [n, here, there] = [k + 1, depthText(tape.metres, units), depthText(away, units)];
  if (tape.doubt.metres === null) return say("tie.third_unknown", { n, here, there });
  return Math.abs(away - tape.metres) > tape.doubt.metres ? say("tie.third", { n, here, there }) : say("tie.third_same", { n, here, there });
}

/** What always holds for tapes; said once. */
export const tapeLimits = (units: Units): string[] => [
  say("tie.caution"), units === "us" ? say("tie.level_us") : say("tie.level_metric"), say("tie.sums"),
];

/** Everything about the ties as lines of text; `place` gives coordinates. */
export function tiesText({ target, ties }: Ties, units: Units, place: (at: LonLat) => string): string {
  if (target === null) return "";
  const spot = (s: Spot) => [say("tie.line", { what: s.what, grounds: s.grounds }), place(s.at)];
  return [
    say("tie.target"), ...spot(target),
    ...ties.flatMap((t, i) => {
      const tape = tapeTo(t, target, units);
      return ["", say("tie.row", { name: tieName(t, i), tape: tapeText(tape, units), way: wayText(tape) }), ...spot(t)];
    }),
    "", ...swingText({ target, ties }, units), "", ...tapeLimits(units),
  ].join("\n");
}
