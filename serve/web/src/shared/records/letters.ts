// The letters along lines: one upright, a word along the line, in a small gap of the line, at places that the line itself
// decides, moved along it or left out where they would cover another mark.
import type { FeatureLike } from "ol/Feature";
import { type Box, overlap } from "./boxes";
import { isSeen, type Sight } from "./edgelabels";
import type { Placement } from "./labelplacement";
import { type Path, placeAt, type Span } from "./path";
import type { Stage } from "./stage";

export interface Letter {
  x: number;
  y: number;
  /** how it is turned, in radians clockwise; a word is never upside down */
  turn: number;
  /** the gap of the line, in projected meters along it */
  gap: Span;
}

/** What stands in a gap, in pixels. */
export interface Word {
  width: number;
  height: number;
  /** from one letter to the next */
  every: number;
  /** whether it stands along the line */
  along?: boolean;
}

/** How far a letter is moved along its line to find room, as a share of the way to the next one. */
const shifts = [0, 0.17, -0.17, 0.34, -0.34];
/** From a letter to the ends of its line's gap, and the shortest line that has a letter beside its gap, in pixels. */
const air = 3;
const shortest = 30;

/** In how many places of its stretch of the line a word is tried that the edge would cut. */
const tries = 40;

/** A word with the stretch of the line that it stands in. */
interface Standing {
  letter: Letter;
  path: Path;
  from: number;
  spacing: number;
  word: Word;
}

/** Finds the places of letters at one resolution, each when it first comes into sight. */
export class LetterPlaces {
  private readonly decided = new WeakMap<FeatureLike, Map<string, Letter | null>>();
  private readonly words: Standing[] = [];
  private moved = new Map<Letter, Letter | null>();

  /** `unit` is a pixel of the placement in projected meters. */
  constructor(private readonly placement: Placement, private readonly unit: number) {}

  /** Whether ticks of a line may be drawn at a place: those under other marks would look like parts of them. */
  hasTicks(x: number, y: number, long: number): boolean {
    return this.placement.hasTicks(x / this.unit, -y / this.unit, long);
  }

  /** Moves words along their lines to where nothing cuts them, at rest, or leaves them out; whether any stands elsewhere than before. */
  keepClear(sight: Sight): boolean {
    const before = this.moved;
    this.moved = new Map();
    const taken: Box[] = [];
    for (const one of this.words) {
      const own = this.boxOf(one.letter, one.word);
      if (isSeen(own, sight)) continue;
      const to = this.inSight(one, (box) => isSeen(box, sight) && this.placement.isFree(box, own) && !taken.some((b) => overlap(b, box)));
      if (to) taken.push(this.boxOf(to, one.word));
      this.moved.set(one.letter, to);
    }
    return before.size !== this.moved.size || [...this.moved].some(([of, to]) => !before.has(of) || before.get(of)?.x !== to?.x || before.get(of)?.y !== to?.y);
  }

  private inSight({ letter, path, from, spacing, word }: Standing, fits: (box: Box) => boolean): Letter | null {
    const at = (letter.gap[0] + letter.gap[1]) / 2;
    return Array.from({ length: tries }, (_, i) => from + ((i + 0.5) / tries) * spacing).sort((a, b) => Math.abs(a - at) - Math.abs(b - at))
      .map((s) => this.letterAt(path, s, spacing, word)).find((l) => l !== null && fits(this.boxOf(l, word))) ?? null;
  }

  private boxOf({ x, y, turn }: Letter, word: Word): Box {
    const [width, height] = turned(word, turn);
    const [px, py] = [x / this.unit, -y / this.unit];
    return [px - width / 2 - air, py - height / 2 - air, px + width / 2 + air, py + height / 2 + air];
  }

  /** The letters on the stretches of a line that are in sight; `part` is which of a feature's lines it is. */
  on(feature: FeatureLike, part: number, path: Path, seen: { from: number; to: number }[], word: Word): Letter[] {
    const pixels = path.length / this.unit;
    const n = Math.max(Math.floor(pixels / word.every), pixels > Math.min(word.width, word.height) + shortest ? 1 : 0);
    if (n === 0) return [];
    const spacing = path.length / n;
    let known = this.decided.get(feature);
    if (known === undefined) this.decided.set(feature, (known = new Map()));
    const letters: Letter[] = [];
    let next = 0;
    for (const { from, to } of seen) {
      for (next = Math.max(next, Math.floor(from / spacing)); next * spacing < to && next < n; next++) {
        const key = `${part}/${next}/${n}`;
        let letter = known.get(key);
        if (letter === undefined) known.set(key, (letter = this.find(path, next, spacing, word)));
        const now = letter && this.moved.get(letter);
        if (letter && now !== null) letters.push(now ?? letter);
      }
    }
    return letters;
  }

  private find(path: Path, k: number, spacing: number, word: Word): Letter | null {
    for (const shift of shifts) {
      const letter = this.letterAt(path, (k + 0.5 + shift) * spacing, spacing, word);
      if (letter === null || !this.placement.take(this.boxOf(letter, word))) continue;
      if (word.along) this.words.push({ letter, path, from: k * spacing, spacing, word });
      return letter;
    }
    return null;
  }

  /** A letter at a length along a line; null where the line is too short for it. */
  private letterAt(path: Path, s: number, spacing: number, word: Word): Letter | null {
    const { x, y, dx, dy } = placeAt(path, s);
    const turn = word.along ? readable(Math.atan2(-dy, dx)) : 0;
    const [width, height] = turned(word, turn);
    const half = ((word.along ? word.width / 2 : Math.min(width / 2 / Math.abs(dx), height / 2 / Math.abs(dy))) + air) * this.unit;
    if (2 * half + shortest / 2 * this.unit > spacing || s < half || s > path.length - half) return null;
    return { x, y, turn, gap: [s - half, s + half] };
  }
}

/** An angle, or the opposite one, at which a text is not upside down. */
const readable = (turn: number): number => (turn > Math.PI / 2 ? turn - Math.PI : turn <= -Math.PI / 2 ? turn + Math.PI : turn);

/** The width and height of what a turned word covers. */
function turned({ width, height }: Word, turn: number): [number, number] {
  const [c, s] = [Math.abs(Math.cos(turn)), Math.abs(Math.sin(turn))];
  return [width * c + height * s, width * s + height * c];
}

/** Where a letter stands on a canvas, in whole pixels. */
export const onCanvas = ({ x, y }: { x: number; y: number }, { left, top, scale }: Stage): [number, number] =>
  [Math.round((x - left) * scale), Math.round((top - y) * scale)];
