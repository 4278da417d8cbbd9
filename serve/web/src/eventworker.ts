// Runs as a shared worker: one stream of events for all tabs of this browser.
import { makeLink, type Link, type Message } from "./eventlink";

/** What a tab says to the worker. */
export type Word = "hello" | "wake" | "bye";

const ports = new Set<MessagePort>();
const latest = new Map<string, Message>();
let link: Link | null = null;

function tell(m: Message): void {
  latest.set(m.name, m);
  for (const p of ports) p.postMessage(m);
}

function hear(port: MessagePort, word: Word): void {
  if (word === "bye") {
    ports.delete(port);
    if (ports.size === 0) {
      link?.close();
      link = null;
      latest.clear();
    }
    return;
  }
  if (!ports.has(port)) {
    ports.add(port);
    for (const m of latest.values()) port.postMessage(m);
  }
  if (link === null) link = makeLink(tell);
  else if (word === "wake") link.wake();
}

(self as unknown as { onconnect: (e: MessageEvent) => void }).onconnect = (e) => {
  const port = e.ports[0];
  if (port === undefined) return;
  port.onmessage = (m: MessageEvent<Word>) => hear(port, m.data);
};
