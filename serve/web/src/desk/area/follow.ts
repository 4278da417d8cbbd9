// Tells what is under the pointer's work while it moves: once a frame at most, and so seldom that
// most of the time is left to what is drawn.
import type { Live } from "./toolcontext";

/** A pause is so many times as long as the telling before it took. */
const rest = 5;

export interface Follow {
  /** What follows a geometry that changes. */
  of(read: () => Live): () => void;
  /** Nothing is held any more; what still waits is not told. */
  end(): void;
}

export function makeFollow(tell: (l: Live | null) => void): Follow {
  let [turn, waiting, free] = [0, false, 0];
  return {
    of: (read) => () => {
      if (waiting) return;
      waiting = true;
      const mine = turn;
      setTimeout(() => requestAnimationFrame(() => {
        if (mine !== turn) return;
        waiting = false;
        const began = performance.now();
        tell(read());
        const now = performance.now();
        free = now + rest * (now - began);
      }), Math.max(free - performance.now(), 0));
    },
    end() {
      turn++;
      waiting = false;
      tell(null);
    },
  };
}
