// Events of the laptop: position, clock, packs. All tabs share one stream, because a browser
// has six connections to a host and the picture needs them.
import { shareByLeader } from "./leader";
import type { WorkerCommand } from "./sharedworker";
import { type EventStream, openStream, type StreamEvent } from "./stream";

export interface Events {
  /** Runs `f` on each event of a name, and at once on the latest; `at` is when it was sent, in milliseconds since 1970. */
  on(name: string, f: (data: unknown, at: number) => void): void;
}

/** How long a hidden page keeps its stream: a glance at another app. */
const hiddenMs = 20_000;
/** How long a shared worker may say nothing, not even whether the laptop is in reach, before this tab does without it. */
const silentMs = 3_000;

export function makeEvents(): Events {
  const latest = new Map<string, StreamEvent>();
  const wanted = new Map<string, ((data: unknown, at: number) => void)[]>();
  const tell = (m: StreamEvent) => {
    latest.set(m.name, m);
    for (const f of wanted.get(m.name) ?? []) f(m.data, m.at);
  };
  let link: EventStream | null = connect(tell);
  let timer: ReturnType<typeof setTimeout> | undefined;
  const close = () => {
    link?.close();
    link = null;
  };
  // A page in the browser's cache, or hidden for a while, closes its stream, and opens it again when it is shown.
  const wake = () => {
    clearTimeout(timer);
    if (document.hidden) timer = setTimeout(close, hiddenMs);
    else if (link === null) link = connect(tell);
    else link.wake();
  };
  window.addEventListener("pagehide", close);
  window.addEventListener("pageshow", () => { link ??= connect(tell); });
  document.addEventListener("visibilitychange", wake);
  window.addEventListener("online", wake);
  return {
    on(name, f) {
      wanted.set(name, [...(wanted.get(name) ?? []), f]);
      const m = latest.get(name);
      if (m !== undefined) f(m.data, m.at);
    },
  };
}

function connect(tell: (m: StreamEvent) => void): EventStream {
  const rest = () => ("BroadcastChannel" in window ? shareByLeader(tell) : openStream(tell));
  if (!("SharedWorker" in window)) return rest();
  try {
    return share(tell, rest);
  } catch {
    return rest();
  }
}

function share(tell: (m: StreamEvent) => void, rest: () => EventStream): EventStream {
  const worker = new SharedWorker("/events.js", "groundsheet events");
  let instead: EventStream | null = null;
  const say = (w: WorkerCommand) => worker.port.postMessage(w);
  const leave = () => {
    clearTimeout(late);
    say("bye");
    worker.port.close();
  };
  const giveUp = () => {
    if (instead !== null) return;
    leave();
    instead = rest();
  };
  const late = setTimeout(giveUp, silentMs);
  worker.onerror = giveUp;
  worker.port.onmessage = (e: MessageEvent<StreamEvent>) => {
    clearTimeout(late);
    tell(e.data);
  };
  say("hello");
  return {
    wake: () => (instead === null ? say("wake") : instead.wake()),
    close: () => (instead === null ? leave() : instead.close()),
  };
}
