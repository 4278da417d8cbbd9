// Whether the laptop is in reach, whether it still serves the open pack, and its clock.
// Checked when the page wakes, when an event announces a change, and every minute.
import type { PackEntry } from "../../shared/lib/api";
import { onResponse, request } from "../../shared/lib/http";
import { clockAhead } from "./clock";
import type { Events } from "./events";

/** The time between checks, in milliseconds, in reach and out of reach. */
const checkEvery = { near: 60_000, far: 8_000 };
const listPath = "/packs.json";
/** The timeout of a check. */
const timeoutMs = 6_000;

/** How the laptop stands to this page. */
export type Reach =
  | { state: "near" }
  /** out of reach; `since` is the time of what is shown */
  | { state: "out"; since: string }
  /** it serves another version of the open pack */
  | { state: "exchanged" }
  | { state: "not-served" }
  /** it asks this device to join again */
  | { state: "join" };

export interface Connection {
  /** Sets what runs when the reach changes, and runs it. */
  onReach(f: (reach: Reach) => void): void;
  /** This device's clock minus the laptop's, in milliseconds; null while unknown. */
  ahead(): number | null;
  /** Sets the open pack as it was listed, whose version is known from earlier responses, and its callbacks. */
  watch(pack: { entry: PackEntry; back(): void; clock(): void; exchanged(): void; listed(packs: PackEntry[]): void }): void;
  /** Checks now; resolves to whether the laptop is in reach. */
  check(): Promise<boolean>;
}

/** The pack of a response, and the version that it names, "" for none. */
function versionIn(answer: Response): { pack: string; version: string } {
  const pack = /\/packs\/([^/]+)\//.exec(answer.url)?.[1] ?? "";
  return { pack: decodeURIComponent(pack), version: answer.headers.get("Groundsheet-Pack") ?? "" };
}

export function makeConnection(events: Events): Connection {
  let reach: Reach = { state: "near" };
  let told: (reach: Reach) => void = () => undefined;
  const tell = (now: Reach) => {
    reach = now;
    told(now);
  };
  const versions = new Map<string, string>(); // pack → the version this page shows
  let ahead: number | null = null;
  let far = "";
  let watched: Parameters<Connection["watch"]>[0] | null = null;
  let exchanged = false;
  let gone = false; // the pack was removed, or is being exchanged
  let timer: ReturnType<typeof setTimeout> | undefined;

  const exchange = () => {
    if (exchanged) return;
    exchanged = true;
    watched?.exchanged();
    tell({ state: "exchanged" });
  };
  const lost = (since: string) => {
    if (exchanged || (far !== "" && far >= since)) return;
    far = since;
    tell({ state: "out", since });
    again();
  };
  const found = () => {
    if (far === "") return;
    far = "";
    if (exchanged) return;
    if (gone) return showGone();
    tell({ state: "near" });
    watched?.back();
  };
  const showGone = () => tell({ state: "not-served" });
  const began = new Date().toISOString();
  let heard = ""; // the last response of the laptop itself; a cached one does not count
  const hear = (answer: Response, asked: number) => {
    const seen = answer.headers.get("Groundsheet-Seen") ?? "";
    if (seen !== "") return lost(seen);
    if (new URL(answer.url).pathname === listPath) { // its Date is of now, unlike a cached tile's
      heard = new Date().toISOString();
      ahead = clockAhead(answer.headers.get("Date"), asked, Date.now()) ?? ahead;
    }
    const { pack, version } = versionIn(answer);
    if (version === "") return;
    const known = versions.get(pack);
    if (known === undefined) versions.set(pack, version);
    else if (known !== version && watched?.entry.id === pack) exchange();
  };
  onResponse(hear);

  const ask = async () => {
    try {
      const answer = await request(listPath, { cache: "no-store" }, timeoutMs);
      if (answer.headers.get("Groundsheet-Seen")) return;
      if (answer.status === 401) return tell({ state: "join" });
      if (!answer.ok) return found(); // loading the map reports what is wrong
      watched?.clock();
      const { packs } = (await answer.json()) as { packs: PackEntry[] };
      watched?.listed(packs);
      compare(packs); // first: what failed to load must not come from another version
      found();
    } catch {
      lost(heard || far || began);
    } finally {
      again();
    }
  };
  let asking: Promise<void> | null = null;
  const check = async () => {
    asking ??= ask();
    await asking;
    asking = null;
    return far === "";
  };
  const compare = (packs: PackEntry[]) => {
    if (watched === null) return;
    const { id } = watched.entry;
    const entry = packs.find((p) => p.id === id);
    if (entry !== undefined && entry.version !== versions.get(id)) return exchange();
    if (gone === (entry === undefined) || exchanged) return;
    gone = entry === undefined;
    if (gone) showGone();
    else tell({ state: "near" });
  };
  const again = () => {
    clearTimeout(timer);
    if (!document.hidden) timer = setTimeout(() => void check(), far === "" ? checkEvery.near : checkEvery.far);
  };
  onWake(check, () => clearTimeout(timer));
  onChange(events, check, (packs) => {
    const id = watched?.entry.id;
    return id !== undefined && (gone === (id in packs) || (!gone && packs[id] !== versions.get(id)));
  });
  return {
    ahead: () => ahead,
    onReach(f) {
      told = f;
      f(reach);
    },
    watch(pack) {
      watched = pack;
      compare([pack.entry]);
      pack.clock();
      again();
    },
    check,
  };
}

/** Runs `f` when the link to the laptop changes, and when the laptop serves other packs than are shown: versions by pack. */
function onChange(events: Events, f: () => Promise<boolean>, differs: (packs: Record<string, unknown>) => boolean): void {
  let near: unknown = true;
  events.on("link", (up) => {
    if (up === near) return;
    near = up;
    if (!document.hidden) void f();
  });
  events.on("packs", (data) => {
    if (differs((data as { packs?: Record<string, unknown> } | null)?.packs ?? {})) void f();
  });
}

/** Runs `f` when the page wakes, comes back from the browser's cache, or the network changes, and `rest` when it is hidden. */
function onWake(f: () => Promise<boolean>, rest: () => void): void {
  document.addEventListener("visibilitychange", () => {
    if (document.hidden) rest();
    else void f();
  });
  window.addEventListener("pageshow", (e) => {
    if (e.persisted) void f();
  });
  window.addEventListener("online", () => void f());
  window.addEventListener("offline", () => void f());
}
