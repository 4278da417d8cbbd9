// Elements that stay while they show the same: an answer of the server that comes in the middle of a
// press or of typing takes nothing away from under it.

export interface Kept<T> {
  /** What was made for this key before, else a new one. A key that comes twice in a turn is two. */
  of(key: string, make: () => T): T;
  /** Ends a turn: what was not asked for in it is forgotten. */
  done(): void;
}

export function makeKept<T>(): Kept<T> {
  let before = new Map<string, T>();
  let now = new Map<string, T>();
  return {
    of(key, make) {
      let own = key;
      while (now.has(own)) own += "+";
      const one = before.get(own) ?? make();
      now.set(own, one);
      return one;
    },
    done() {
      [before, now] = [now, new Map()];
    },
  };
}
