// Requests to the field server, and to no other host.
import { say } from "./words";

/** An error whose message is a sentence for the user. */
export class UserError extends Error {}

const defaultTimeoutMs = 20_000;

/** The path of a URL on the page's own origin. Any other host throws a UserError: a pack must not make a phone call out. */
export function ownPath(url: string): string {
  const u = new URL(url, location.href);
  if (u.origin !== location.origin) throw new UserError(say("load.other_host", { host: u.host }));
  return u.pathname + u.search;
}

let observe: (answer: Response, asked: number) => void = () => undefined;

/** Sets a function that sees every response, for its headers, and when it was asked for, in milliseconds since 1970. */
export function onResponse(f: (answer: Response, asked: number) => void): void {
  observe = f;
}

/** Fetches from the page's own origin, with a timeout in milliseconds. */
export async function request(url: string, init: RequestInit = {}, timeoutMs = defaultTimeoutMs): Promise<Response> {
  const stop = new AbortController();
  const timer = setTimeout(() => stop.abort(), timeoutMs);
  const asked = Date.now();
  try {
    const answer = await fetch(ownPath(url), { ...init, signal: stop.signal });
    observe(answer, asked);
    return answer;
  } finally {
    clearTimeout(timer);
  }
}

/** Fetches a URL, whose response may be of any status; `what` names it in an error. */
export async function fetchNamed(url: string, what: string): Promise<Response> {
  const path = ownPath(url);
  try {
    return await request(path);
  } catch {
    throw new UserError(say("load.no_answer", { what }));
  }
}

/** Fetches a JSON object; `what` names it in an error. */
export async function getJSON<T extends object>(url: string, what: string): Promise<T> {
  const answer = await fetchNamed(url, what);
  if (answer.status === 401) {
    location.assign("/join"); // the session has ended, or the code has changed
    throw new UserError(say("load.join_again"));
  }
  if (!answer.ok) throw new UserError(say("load.refused", { what, status: answer.status }));
  try {
    const v: unknown = await answer.json();
    if (v !== null && typeof v === "object") return v as T;
  } catch {
    // invalid JSON and JSON that is not an object are reported alike
  }
  throw new UserError(say("load.damaged", { what }));
}

/** The message for the user of any error. */
export function errorMessage(e: unknown): string {
  return e instanceof UserError ? e.message : say("load.broken", { why: String(e) });
}
