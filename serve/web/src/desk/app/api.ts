// Requests to the desk's server, each with the secret of this start.
import { UserError } from "../../shared/lib/http";
import { say } from "../../shared/lib/words";

/** What went wrong, as the server tells it. */
export interface Problem {
  what: string;
  where: string;
  remedy: string;
}

/** An answer that is a problem. Its message is for people; `status` 409 means: look again. */
export class Refused extends UserError {
  constructor(readonly status: number, readonly problem: Problem) {
    super(problemText(problem));
  }
}

/** A problem in one line: "where: what; remedy". */
export function problemText(p: Problem): string {
  return [[p.where, p.what].filter((t) => t !== "").join(": "), p.remedy].filter((t) => t !== "").join("; ");
}

export interface Api {
  get<T>(path: string, signal?: AbortSignal): Promise<T>;
  post<T>(path: string, body: unknown, signal?: AbortSignal): Promise<T>;
  /** Sends the bytes of a file. */
  send<T>(path: string, bytes: Blob, signal?: AbortSignal): Promise<T>;
  /** The whole answer to a question that is no JSON: a picture, a page, the stream of events. */
  raw(path: string, signal?: AbortSignal): Promise<Response>;
}

const header = "Groundsheet-Desk";
const kept = "groundsheet desk";

/** The secret from the link, which it then leaves; kept for this tab alone. "" when there is none. */
export function takeSecret(): string {
  const given = location.hash.slice(1);
  if (given === "") return sessionStorage.getItem(kept) ?? "";
  sessionStorage.setItem(kept, given);
  history.replaceState(null, "", location.pathname);
  return given;
}

/** `stale` runs when the server does not know the secret: it is that of an earlier start. */
export function makeApi(secret: string, stale: () => void): Api {
  async function ask(path: string, init: RequestInit, signal?: AbortSignal): Promise<Response> {
    let answer: Response;
    try {
      answer = await fetch(path, { ...init, headers: { ...init.headers, [header]: secret }, cache: "no-store", credentials: "omit", redirect: "error", signal: signal ?? null });
    } catch (e) {
      if (signal?.aborted) throw e;
      throw new UserError(say("desk.no_answer"));
    }
    if (answer.status === 403) {
      stale();
      throw new UserError(say("desk.stale_link"));
    }
    if (!answer.ok) throw new Refused(answer.status, await problemOf(answer));
    return answer;
  }
  const json = async <T>(answer: Promise<Response>): Promise<T> => (await (await answer).json()) as T;
  return {
    get: (path, signal) => json(ask(path, {}, signal)),
    post: (path, body, signal) => json(ask(path, { method: "POST", body: JSON.stringify(body), headers: { "Content-Type": "application/json" } }, signal)),
    send: (path, bytes, signal) => json(ask(path, { method: "POST", body: bytes, headers: { "Content-Type": "application/octet-stream" } }, signal)),
    raw: (path, signal) => ask(path, {}, signal),
  };
}

async function problemOf(answer: Response): Promise<Problem> {
  const text = await answer.text();
  try {
    const p = JSON.parse(text) as Partial<Problem>;
    return { what: p.what ?? "", where: p.where ?? "", remedy: p.remedy ?? "" };
  } catch {
    return { what: text.trim() || `${answer.status}`, where: "", remedy: "" };
  }
}
