// A connection to the laptop's stream of events, reopened whenever it breaks.

/** An event; `at` is its estimated time of sending by this device's clock, in milliseconds since 1970. */
export interface StreamEvent {
  name: string;
  data: unknown;
  at: number;
}

export interface EventStream {
  /** Checks at once whether the connection is alive: after the phone slept. */
  wake(): void;
  close(): void;
}

/** The events of the stream; this module adds "link", true while the laptop is in reach. */
const eventNames = ["position", "time", "packs", "verdicts", "book", "instrument"];
/** The silence after which the laptop is out of reach; it sends an event at least every ten seconds. */
const silentMs = 25_000;
/** The pause after a refused connection. */
const retryMs = 4_000;

export function openStream(deliver: (m: StreamEvent) => void): EventStream {
  let source: EventSource | null = null;
  let heard = Date.now();
  let quickest = Infinity; // the least difference between arrival by this clock and sending by the laptop's
  // Events that waited in the network while this device slept arrive late, all at once. The
  // clocks may differ, so only what exceeds the least difference is delay.
  const sent = (id: string) => {
    const [came, sentAt] = [Date.now(), Number(id)];
    if (id === "" || !Number.isFinite(sentAt)) return came;
    quickest = Math.min(quickest, came - sentAt);
    return quickest + sentAt;
  };
  let closed = false;
  let retry: ReturnType<typeof setTimeout> | undefined;
  const link = (up: boolean) => deliver({ name: "link", data: up, at: Date.now() });
  const open = () => {
    clearTimeout(retry);
    source?.close();
    if (closed) return;
    heard = Date.now();
    const s = new EventSource("/events");
    source = s;
    s.onopen = () => {
      quickest = Infinity; // a restarted server counts from zero
      link(true);
    };
    s.onerror = () => {
      link(false);
      // A browser reconnects by itself after a break, but not after a refusal.
      if (s.readyState === EventSource.CLOSED) retry = setTimeout(open, retryMs);
    };
    for (const name of eventNames) {
      s.addEventListener(name, (e) => {
        heard = sent((e as MessageEvent<string>).lastEventId);
        const data = read((e as MessageEvent<string>).data);
        if (data !== undefined) deliver({ name, data, at: heard });
      });
    }
  };
  let timer: ReturnType<typeof setTimeout> | undefined;
  const check = () => {
    const silent = Date.now() - heard;
    if (silent > silentMs || silent < 0) {
      link(false);
      open();
    }
    clearTimeout(timer);
    timer = setTimeout(check, heard + silentMs + 1 - Date.now());
  };
  open();
  check();
  return {
    wake: check,
    close() {
      closed = true;
      clearTimeout(retry);
      clearTimeout(timer);
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
