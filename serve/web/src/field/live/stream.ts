// One connection to the laptop's stream of events, made again whenever it breaks.

/** One event, with when it was sent by this device's clock (milliseconds since 1970), as far as that shows. */
export interface StreamEvent {
  name: string;
  data: unknown;
  at: number;
}

export interface EventStream {
  /** Looks at once whether the connection still lives: after the phone slept. */
  wake(): void;
  close(): void;
}

/** The events of the stream, and one of our own: "link", true when the laptop is in reach. */
const eventNames = ["position", "time", "packs", "verdicts"];

/** The laptop gives a sign of life each ten seconds; after so long without one it is out of reach. */
const silentMs = 25_000;

/** How long to wait after a refusal. */
const againMs = 4_000;

export function openStream(tell: (m: StreamEvent) => void): EventStream {
  let source: EventSource | null = null;
  let heard = Date.now();
  let quickest = Infinity; // the least time from the laptop's clock of sending to this one's of coming
  // What lay in the network while this device slept comes all at once and late. The
  // clocks differ by what they differ, so only more than the quickest is lateness.
  const sent = (id: string) => {
    const [came, told] = [Date.now(), Number(id)];
    if (id === "" || !Number.isFinite(told)) return came;
    quickest = Math.min(quickest, came - told);
    return quickest + told;
  };
  let closed = false;
  let retry: ReturnType<typeof setTimeout> | undefined;
  const link = (up: boolean) => tell({ name: "link", data: up, at: Date.now() });
  const open = () => {
    clearTimeout(retry);
    source?.close();
    if (closed) return;
    heard = Date.now();
    const s = new EventSource("/events");
    source = s;
    s.onopen = () => {
      quickest = Infinity; // a laptop that was started again counts anew
      link(true);
    };
    s.onerror = () => {
      link(false);
      // A browser tries again by itself when a connection breaks, but not after a refusal.
      if (s.readyState === EventSource.CLOSED) retry = setTimeout(open, againMs);
    };
    for (const name of eventNames) {
      s.addEventListener(name, (e) => {
        heard = sent((e as MessageEvent<string>).lastEventId);
        const data = read((e as MessageEvent<string>).data);
        if (data !== undefined) tell({ name, data, at: heard });
      });
    }
  };
  const look = () => {
    const silent = Date.now() - heard;
    if (silent <= silentMs && silent >= 0) return;
    link(false);
    open();
  };
  const watch = setInterval(look, 5_000);
  open();
  return {
    wake: look,
    close() {
      closed = true;
      clearTimeout(retry);
      clearInterval(watch);
      source?.close();
    },
  };
}

function read(text: string): unknown {
  try {
    return JSON.parse(text);
  } catch {
    return undefined;
  }
}
