// What the server tells by itself: one stream of JSON lines a page, opened again when it ends.
import type { Api } from "./api";

export interface Events {
  /**
   * Hears of a topic: "job", "jobs", "task" and those of other parts; "opened" when the stream begins,
   * since what happened before was not heard. Gives the function that ends it.
   */
  on<T>(topic: string, f: (value: T) => void): () => void;
}

/** Longer than the server is ever silent, in milliseconds. */
const silence = 25_000;
const pauses = [500, 1000, 2000, 5000];

/**
 * Opens the stream for as long as the page is there. `opened` runs each time it begins: what
 * happened meanwhile was not heard. `closed` runs when the server does not answer.
 */
export function openEvents(api: Api, opened: () => void, closed: () => void): Events {
  const heard = new Map<string, Set<(value: unknown) => void>>();
  const tell = (line: string) => {
    if (line === "") return;
    const { topic, value } = JSON.parse(line) as { topic: string; value: unknown };
    for (const f of heard.get(topic) ?? []) f(value);
  };
  void follow(api, tell, opened, closed);
  return {
    on(topic, f) {
      const all = heard.get(topic) ?? new Set();
      heard.set(topic, all.add(f as (value: unknown) => void));
      return () => all.delete(f as (value: unknown) => void);
    },
  };
}

async function follow(api: Api, tell: (line: string) => void, opened: () => void, closed: () => void): Promise<void> {
  for (let failures = 0; ; failures++) {
    const stop = new AbortController();
    let late: ReturnType<typeof setTimeout> | undefined;
    const alive = () => {
      clearTimeout(late);
      late = setTimeout(() => stop.abort(), silence);
    };
    try {
      alive();
      const answer = await api.raw("/api/events", stop.signal);
      failures = 0;
      opened();
      tell(`{"topic":"opened","value":null}`);
      await lines(answer, tell, alive);
    } catch {
      // it is opened again below, whatever ended it
    }
    clearTimeout(late);
    if (failures > 0) closed();
    await new Promise((go) => setTimeout(go, pauses[Math.min(failures, pauses.length - 1)]));
  }
}

async function lines(answer: Response, tell: (line: string) => void, alive: () => void): Promise<void> {
  const reader = answer.body?.getReader();
  if (reader === undefined) return;
  const text = new TextDecoder();
  let rest = "";
  for (;;) {
    const { done, value } = await reader.read();
    if (done) return;
    alive();
    const all = (rest + text.decode(value, { stream: true })).split("\n");
    rest = all.pop() ?? "";
    all.forEach(tell);
  }
}
