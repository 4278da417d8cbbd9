// One stream of events for all tabs where a browser has no shared workers: one
// tab has the stream and passes on what comes. Locks would settle which one, but
// a browser gives them to secure pages alone, and on a hotspot few are.
import { type EventStream, openStream, type StreamEvent } from "./stream";

/** What tabs say to each other. The lower rank leads: a tab in sight before a hidden one. */
type TabMessage =
  | { say: "ask"; rank: string }
  | { say: "lead"; rank: string }
  | { say: "bye" }
  | { say: "tell"; message: StreamEvent };

/** When a leading tab that says nothing counts as gone. */
const goneMs = 5_000;

/** How long a new tab waits for an answer, and how often tabs look who leads. */
const answerMs = 500;

export function shareByLeader(tell: (m: StreamEvent) => void): EventStream {
  const own = Math.random().toString(36).slice(2);
  const rank = () => `${document.hidden ? 1 : 0}${own}`;
  const channel = new BroadcastChannel("groundsheet-events");
  const say = (w: TabMessage) => channel.postMessage(w);
  const latest = new Map<string, StreamEvent>();
  let link: EventStream | null = null;
  let heard = Date.now() - goneMs + answerMs;

  const pass = (m: StreamEvent) => {
    latest.set(m.name, m);
    tell(m);
    if (link !== null) say({ say: "tell", message: m });
  };
  const follow = () => {
    link?.close();
    link = null;
    heard = Date.now();
  };
  const lead = () => {
    link = openStream(pass);
    say({ say: "lead", rank: rank() });
  };
  const look = () => {
    if (link !== null) say({ say: "lead", rank: rank() });
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
      if (data.say === "ask") say({ say: "bye" });
    } else {
      say({ say: "lead", rank: rank() });
      if (data.say === "ask") for (const message of latest.values()) say({ say: "tell", message });
    }
  };
  say({ say: "ask", rank: rank() });
  const timer = setInterval(look, answerMs);
  return {
    wake() {
      if (link !== null) link.wake();
      else say({ say: "ask", rank: rank() });
    },
    close() {
      clearInterval(timer);
      if (link !== null) say({ say: "bye" });
      link?.close();
      channel.close();
    },
  };
}
