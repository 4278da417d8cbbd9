// The join page: takes a code from the link or typed, and signs out. It knows nothing of packs.
import { byId } from "../../shared/lib/dom";
import { request } from "../../shared/lib/http";
import { say } from "../../shared/lib/words";
import "./join.css";

const form = byId("ask") as HTMLFormElement;
const field = byId("code") as HTMLInputElement;
const button = byId("go");

interface Answer {
  status: number;
  role: string;
  waitS: number; // seconds until the next try, 0 = none to wait
}

/** Sends a request; status 0 means no response. */
async function ask(path: string, body?: object): Promise<Answer> {
  const init: RequestInit = { cache: "no-store" };
  if (body !== undefined) {
    init.method = "POST";
    init.headers = { "Content-Type": "application/json" };
    init.body = JSON.stringify(body);
  }
  try {
    const r = await request(path, init);
    const wait = r.status === 429 ? Math.max(1, Number(r.headers.get("Retry-After")) || 1) : 0;
    const role = r.ok ? ((await r.json()) as { role: string }).role : "";
    return { status: r.status, role, waitS: wait };
  } catch {
    return { status: 0, role: "", waitS: 0 };
  }
}

/** Takes the code out of a link /join#CODE. At any other path, what follows "#" is a view of the map and stays. */
function codeOfLink(): string {
  if (location.pathname !== "/join" || location.hash.length < 2) return "";
  const code = location.hash.slice(1);
  history.replaceState(null, "", "/join"); // first of all: out of the address bar and the history
  try {
    return decodeURIComponent(code);
  } catch {
    return code;
  }
}

/** Opens the requested page, always on this server. */
function enter(): void {
  const asked = location.pathname === "/join" ? "/" : location.pathname + location.search + location.hash;
  const to = location.origin + asked;
  // Change the address first: a browser does not reload for a different part after "#".
  history.replaceState(null, "", "/join");
  location.replace(to);
}

function showMessage(words: string): void {
  document.body.dataset.state = words === "" ? "asking" : "told";
  byId("said").textContent = words;
}

let waiting = false;

/** Counts down to the next try; read aloud once only. */
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
    showMessage("");
  };
  tick();
}

async function tryCode(code: string): Promise<void> {
  if (waiting) return;
  if (code.trim() === "") {
    showMessage(say("join.empty"));
    field.focus();
    return;
  }
  showMessage("");
  const a = await ask("/join", { code });
  if (a.role !== "") {
    enter();
  } else if (a.waitS > 0) {
    showMessage(say("join.too_many", { n: a.waitS }));
    wait(a.waitS);
  } else {
    showMessage(a.status === 403 ? say("join.wrong") : a.status === 0 ? say("join.no_answer") : say("join.refused", { status: a.status }));
    field.select();
    field.focus();
  }
}

/** Shows that the phone has joined already. */
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
      showMessage(say("join.still_in"));
      return;
    }
    byId("in").hidden = true;
    form.hidden = false;
    localStorage.clear();
    void forget();
    showMessage(isSecureContext ? say("join.out") : say("join.out_kept"));
  }));
  // The link opened again on this page: a browser does not reload for that.
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
    showMessage("");
    showIn(role);
  } else {
    enter(); // the browser withheld the cookie from the first request only, from a link on another page
  }
}

/** Deletes what the service worker stores, and what it is about to store. */
async function forget(): Promise<void> {
  if (!("serviceWorker" in navigator)) return;
  for (const r of await navigator.serviceWorker.getRegistrations()) {
    r.active?.postMessage({ forget: true });
    await r.unregister();
  }
  for (const name of await caches.keys()) await caches.delete(name);
}

/** Prevents an endless loop in a browser that never sends the cookie with a page. */
function enteredJustNow(): boolean {
  const last = Number(sessionStorage.getItem("entered"));
  sessionStorage.setItem("entered", String(Date.now()));
  return Math.abs(Date.now() - last) < 10_000;
}

window.onerror = null; // the browser can run the page: guard.ts watches no longer
void start();
