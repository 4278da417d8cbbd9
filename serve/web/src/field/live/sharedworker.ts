// The shared worker: one stream of events for all tabs of this browser.
import { type EventStream, openStream, type StreamEvent } from "./stream";

/** Messages of a tab to the worker. */
export type WorkerCommand = "hello" | "wake" | "bye";

const ports = new Set<MessagePort>();
const latest = new Map<string, StreamEvent>();
let link: EventStream | null = null;

function tell(m: StreamEvent): void {
  latest.set(m.name, m);
  for (const p of ports) p.postMessage(m);
}

function hear(port: MessagePort, word: WorkerCommand): void {
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
  if (link === null) link = openStream(tell);
  else if (word === "wake") link.wake();
}

(self as unknown as { onconnect: (e: MessageEvent) => void }).onconnect = (e) => {
  const port = e.ports[0];
  if (port === undefined) return;
  port.onmessage = (m: MessageEvent<WorkerCommand>) => hear(port, m.data);
};
