// One stream of events for all tabs in a browser without shared workers: the leading tab has
// the stream and passes events on. Web locks would elect it, but need a secure page.
import { type EventStream, openStream, type StreamEvent } from "./stream";

/** Messages between tabs. The lower rank leads: a visible tab before a hidden one. */
type TabMessage =
  | { say: "ask"; rank: string }
  | { say: "lead"; rank: string }
  | { say: "bye" }
  | { say: "tell"; message: StreamEvent };

/** The silence after which the leading tab counts as gone. */
const goneMs = 5_000;
/** How long a new tab waits for an answer, and how often tabs check for a leader. */
const answerMs = 500;

export function shareByLeader(deliver: (m: StreamEvent) => void): EventStream {
  const own = Math.random().toString(36).slice(2);
  const rank = () => `${document.hidden ? 1 : 0}${own}`;
  const channel = new BroadcastChannel("groundsheet-events");
  const post = (w: TabMessage) => channel.postMessage(w);
  const latest = new Map<string, StreamEvent>();
  let link: EventStream | null = null;
  let heard = Date.now() - goneMs + answerMs;

  const pass = (m: StreamEvent) => {
    latest.set(m.name, m);
    deliver(m);
    if (link !== null) post({ say: "tell", message: m });
  };
  const follow = () => {
    link?.close();
    link = null;
    heard = Date.now();
  };
  const lead = () => {
    link = openStream(pass);
    post({ say: "lead", rank: rank() });
  };
  const check = () => {
    if (link !== null) post({ say: "lead", rank: rank() });
    else if (!document.hidden && Math.abs(Date.now() - heard) > goneMs) lead();
  };
  channel.onmessage = ({ data }: MessageEvent<TabMessage>) => {
    if (data.say === "tell") {
      heard = Date.now();
      if (link === null) pass(data.message);
    } else if (data.say === "bye") {
      heard = Date.now() - goneMs + Math.random() * answerMs; // not all tabs at once
    } else if (link === null) {
      if (data.say === "lead") heard = Date.now();
    } else if (data.rank < rank() && (data.say === "lead" || document.hidden)) {
      follow();
      if (data.say === "ask") post({ say: "bye" });
    } else {
      post({ say: "lead", rank: rank() });
      if (data.say === "ask") for (const message of latest.values()) post({ say: "tell", message });
    }
  };
  post({ say: "ask", rank: rank() });
  const timer = setInterval(check, answerMs);
  return {
    wake() {
      if (link !== null) link.wake();
      else post({ say: "ask", rank: rank() });
    },
    close() {
      clearInterval(timer);
      if (link !== null) post({ say: "bye" });
      link?.close();
      channel.close();
    },
  };
}
