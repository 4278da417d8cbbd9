// The page of a phone that is not in yet: a code by the link or by hand, and out
// again. It knows nothing of the packs.
import { byId } from "../../shared/lib/dom";
import { say } from "../../shared/lib/words";
import "./join.css";

const patienceMs = 20_000;
const form = byId("ask") as HTMLFormElement;
const field = byId("code") as HTMLInputElement;
const button = byId("go");

interface Answer {
  status: number;
  role: string;
  waitS: number; // seconds until the next try, 0 = none to wait
}

/** Asks the laptop; status 0 says that it did not answer. */
async function ask(path: string, body?: object): Promise<Answer> {
  const init: RequestInit = { signal: AbortSignal.timeout(patienceMs), cache: "no-store" };
  if (body !== undefined) {
    init.method = "POST";
    init.headers = { "Content-Type": "application/json" };
    init.body = JSON.stringify(body);
  }
  try {
    const r = await fetch(path, init);
    const wait = r.status === 429 ? Math.max(1, Number(r.headers.get("Retry-After")) || 1) : 0;
    const role = r.ok ? ((await r.json()) as { role: string }).role : "";
    return { status: r.status, role, waitS: wait };
  } catch {
    return { status: 0, role: "", waitS: 0 };
  }
}

/**
 * Takes a code out of the address. A link to join is /join#CODE; at any other
 * address what follows # is a place on the map and stays.
 */
function codeOfLink(): string {
  if (location.pathname !== "/join" || location.hash.length < 2) return "";
  const code = location.hash.slice(1);
  history.replaceState(null, "", "/join"); // before anything else: out of the address bar and the history
  try {
    return decodeURIComponent(code);
  } catch {
    return code;
  }
}

/** Opens what the phone came for: always on this very server, whatever its address says. */
function enter(): void {
  const asked = location.pathname === "/join" ? "/" : location.pathname + location.search + location.hash;
  const to = location.origin + asked;
  // Another address first: a browser does not load the one it is at anew for the part after #.
  history.replaceState(null, "", "/join");
  location.replace(to);
}

function tell(words: string): void {
  document.body.dataset.state = words === "" ? "asking" : "told";
  byId("said").textContent = words;
}

let waiting = false;

/** Counts down; read aloud once only. */
function wait(seconds: number): void {
  waiting = true;
  button.setAttribute("aria-disabled", "true");
  document.body.dataset.state = "waiting";
  const end = performance.now() + seconds * 1000;
  const tick = (): void => {
    const left = Math.ceil((end - performance.now()) / 1000);
    byId("left").textContent = left > 0 ? say("join.open_in", { s: left }) : "";
    if (left > 0) {
      setTimeout(tick, 250);
      return;
    }
    waiting = false;
    button.removeAttribute("aria-disabled");
    tell("");
  };
  tick();
}

async function tryCode(code: string): Promise<void> {
  if (waiting) return;
  if (code.trim() === "") {
    tell(say("join.empty"));
    field.focus();
    return;
  }
  tell("");
  const a = await ask("/join", { code });
  if (a.role !== "") {
    enter();
  } else if (a.waitS > 0) {
    tell(say("join.too_many", { n: a.waitS }));
    wait(a.waitS);
  } else {
    tell(a.status === 403 ? say("join.wrong") : a.status === 0 ? say("join.no_answer") : say("join.refused", { status: a.status }));
    field.select();
    field.focus();
  }
}

/** What a phone sees that is in already and opens this page by itself. */
function showIn(role: string): void {
  byId("in-words").textContent = role === "mark" ? say("join.in_mark") : say("join.in");
  byId("in").hidden = false;
  form.hidden = true;
  document.body.dataset.state = "in";
}

async function start(): Promise<void> {
  form.addEventListener("submit", (e) => {
    e.preventDefault();
    void tryCode(field.value);
  });
  byId("leave").addEventListener("click", () => void ask("/leave", {}).then((a) => {
    if (a.status !== 200) {
      tell(say("join.still_in"));
      return;
    }
    byId("in").hidden = true;
    form.hidden = false;
    localStorage.clear();
    void forget();
    tell(isSecureContext ? say("join.out") : say("join.out_kept"));
  }));
  // The link opened once more where this page stands already: a browser does not load that anew.
  window.addEventListener("hashchange", () => {
    if (location.pathname === "/join" && location.hash.length > 1) location.reload();
  });
  const code = codeOfLink();
  if (code !== "") {
    field.value = code;
    await tryCode(code);
    if (document.body.dataset.state !== "told") return;
  }
  const { role } = await ask("/session");
  if (role === "") return;
  if (location.pathname === "/join" || enteredJustNow()) {
    tell("");
    showIn(role);
  } else {
    enter(); // the cookie was only not sent with the first request, from a link on another page
  }
}

/** Takes out what the worker beside the map keeps, and what it is about to keep. */
async function forget(): Promise<void> {
  if (!("serviceWorker" in navigator)) return;
  for (const r of await navigator.serviceWorker.getRegistrations()) {
    r.active?.postMessage({ forget: true });
    await r.unregister();
  }
  for (const name of await caches.keys()) await caches.delete(name);
}

/** Keeps a phone whose browser never sends the cookie with a page from going round for ever. */
function enteredJustNow(): boolean {
  const last = Number(sessionStorage.getItem("entered"));
  sessionStorage.setItem("entered", String(Date.now()));
  return Math.abs(Date.now() - last) < 10_000;
}

void start();
