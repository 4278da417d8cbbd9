// One stream of events for all tabs in a browser without shared workers: the leading tab has
// the stream and passes events on. Web locks would elect it, but need a secure page.
//
// Nobody says anything by the clock. A tab that hears nothing for a while, and is seen, asks
// whether the leader is there, and leads when there is no answer. So a tab that is alone or hidden
// says nothing, and while events come nobody asks.
import { type EventStream, openStream, type StreamEvent } from "./stream";

/** Messages between tabs. The lower rank leads: a visible tab before a hidden one. */
type TabMessage =
  | { say: "ask"; rank: string; all: boolean } // all: also the latest events
  | { say: "lead"; rank: string }
  | { say: "bye" }
  | { say: "tell"; rank: string; message: StreamEvent };

/** The silence after which a tab asks for the leader. */
const quietMs = 4_000;
/** The silence after which the leading tab counts as gone. */
const goneMs = 5_000;
/** How long a new tab waits for an answer. */
const answerMs = 500;

export function shareByLeader(deliver: (m: StreamEvent) => void): EventStream {
  const own = Math.random().toString(36).slice(2);
  const rank = () => `${document.hidden ? 1 : 0}${own}`;
  const channel = new BroadcastChannel("groundsheet-events");
  const post = (w: TabMessage) => channel.postMessage(w);
  const latest = new Map<string, StreamEvent>();
  let link: EventStream | null = null;
  let others = false; // whether another tab was ever heard
  let heard = Date.now() - goneMs + answerMs;
  let timer: ReturnType<typeof setTimeout> | undefined;

  const pass = (m: StreamEvent) => {
    latest.set(m.name, m);
    deliver(m);
    if (link !== null && others) post({ say: "tell", rank: rank(), message: m });
  };
  const follow = () => {
    link?.close();
    link = null;
    heard = Date.now();
    wait();
  };
  const lead = () => {
    link = openStream(pass);
    post({ say: "lead", rank: rank() });
  };
  // A leader waits for nobody, and a hidden tab for its turn to be seen.
  const wait = () => {
    clearTimeout(timer);
    if (link !== null || document.hidden) return;
    const silent = Math.abs(Date.now() - heard); // a clock that was set back counts as silence too
    if (silent > goneMs) return lead();
    if (silent >= quietMs) post({ say: "ask", rank: rank(), all: false });
    timer = setTimeout(wait, (silent < quietMs ? quietMs : goneMs + 1) - silent);
  };
  channel.onmessage = ({ data }: MessageEvent<TabMessage>) => {
    others = true;
    if (data.say === "bye") {
      heard = Date.now() - goneMs + Math.random() * answerMs; // not all tabs at once
      wait();
    } else if (link === null) {
      if (data.say !== "ask") heard = Date.now();
      if (data.say === "tell") pass(data.message);
    } else if (data.rank < rank() && (data.say !== "ask" || document.hidden)) {
      follow();
      if (data.say === "ask") post({ say: "bye" });
    } else {
      post({ say: "lead", rank: rank() });
      if (data.say === "ask" && data.all) for (const message of latest.values()) post({ say: "tell", rank: rank(), message });
    }
  };
  const ask = () => post({ say: "ask", rank: rank(), all: true });
  ask();
  wait();
  return {
    wake() {
      if (link !== null) return link.wake();
      ask();
      wait();
    },
    close() {
      clearTimeout(timer);
      if (link !== null) post({ say: "bye" });
      link?.close();
      channel.close();
    },
  };
}
