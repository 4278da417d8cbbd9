// Requests to the field server, and to nothing else.
import { say } from "./words";

/** A failure told in words for the person who holds the phone. */
export class UserError extends Error {}

const patienceMs = 20_000;

/**
 * The path of a URL on the page's own origin. A URL on another host throws
 * Trouble: on site there is nothing but the hotspot, and a pack must not be
 * able to make a phone call out.
 */
export function ownPath(url: string): string {
  const u = new URL(url, location.href);
  if (u.origin !== location.origin) {
    throw new UserError(say("load.other_host", { host: u.host }));
  }
  return u.pathname + u.search;
}

let observe: (answer: Response) => void = () => undefined;

/** Sets what looks at every answer: its version, and whether it was kept from before. */
export function onResponse(f: (answer: Response) => void): void {
  observe = f;
}

/** Fetches from the own origin, with an end to the waiting. */
export async function request(url: string, init: RequestInit = {}, patience = patienceMs): Promise<Response> {
  const stop = new AbortController();
  const timer = setTimeout(() => stop.abort(), patience);
  try {
    const answer = await fetch(ownPath(url), { ...init, signal: stop.signal });
    observe(answer);
    return answer;
  } finally {
    clearTimeout(timer);
  }
}

/** Fetches a JSON object; `what` names it in the message of a failure. */
export async function getJSON<T extends object>(url: string, what: string): Promise<T> {
  const path = ownPath(url);
  let answer: Response;
  try {
    answer = await request(path);
  } catch {
    throw new UserError(say("load.no_answer", { what }));
  }
  if (answer.status === 401) {
    location.assign("/join"); // the session ended, or the code is a new one
    throw new UserError(say("load.join_again"));
  }
  if (!answer.ok) {
    throw new UserError(say("load.refused", { what, status: answer.status }));
  }
  try {
    const v: unknown = await answer.json();
    if (v !== null && typeof v === "object") return v as T;
  } catch {
    // told below: text that is no JSON and JSON that is no object are one fault
  }
  throw new UserError(say("load.damaged", { what }));
}

/** The message of any failure. */
export function errorMessage(e: unknown): string {
  return e instanceof UserError ? e.message : say("load.broken", { why: String(e) });
}
