// The user's position: what is told of it, the marker, following, and the way back to the job.
import type Geometry from "ol/geom/Geometry";
import { fromLonLat } from "ol/proj";
import { byId } from "../../shared/lib/dom";
import { getStored, setStored } from "../../shared/lib/storage";
import type { Units } from "../../shared/lib/units";
import { keepAwake } from "../../shared/lib/wakelock";
import { say } from "../../shared/lib/words";
import type { MapView } from "../../shared/map/mapview";
import type { Spot } from "../../shared/measure/doubt";
import type { Page, Sheet } from "../../shared/shell/sheet";
import type { Events } from "../live/events";
import { ageOf, durationText, type Fix, freshness, type PositionState } from "./fix";
import { makeHere } from "./here";
import { makeMarker, type Places } from "./marker";
import { type Choice, makePositionSheet } from "./sheet";
import { followPhone, followReceiver } from "./source";
import { positionSpot } from "./spot";
import { wayBackTo } from "./wayback";

const storedChoice = "position";

export interface Position {
  /** the sheet about it */
  page: Page;
  /** the position as it is now, by the source that the person chose */
  now(): PositionState;
  /** the position as one end of a tape; a sentence where there is none */
  spot(): Spot | string;
}

interface Parts {
  mapView: MapView;
  /** the shape of the job */
  ground: Geometry[];
  units: Units;
  sheet: Sheet;
  events: Events;
  /** Runs with how old the position is that is shown, "" where that is not known; null for none that is old. */
  old(age: string | null): void;
  /** Keeps the mark and its words clear of records, and records clear of it. */
  places: Places;
}

/** Shows the user's position on a map. */
export function makePosition({ mapView, ground, units, sheet, events, old, places }: Parts): Position {
  const showHere = makeHere((button) => sheet.toggle(page, button), () => follow(!following));
  const marker = makeMarker(mapView, places);
  let chosen = lastChoice();
  let following = false;
  let made = false; // sources may report before the rest is made
  const changed = () => made && update();
  let timer: ReturnType<typeof setTimeout> | undefined;
  const receiver = followReceiver(events, changed);
  const phone = followPhone(changed);
  const choice = (): Choice => chosen ?? (receiver.name === "" ? "off" : "receiver");
  const here = (): PositionState => {
    switch (choice()) {
      case "receiver": return receiver.now();
      case "phone": return phone.now();
      case "off": return { fix: null, trouble: "" };
    }
  };
  const about = makePositionSheet({
    receiver, phone, units, choice,
    choose(c) {
      chosen = c;
      setStored(storedChoice, c);
      phone.setOn(c === "phone");
      if (c === "off") follow(false);
      update();
    },
  });
  const page: Page = { title: say("position.title"), body: about.body };
  const follow = (on: boolean) => {
    following = on;
    keepAwake("following", on);
    update();
  };
  const update = () => {
    clearTimeout(timer);
    if (document.hidden) return; // nobody looks; what is shown is made good when somebody does
    const now = Date.now();
    const w = here();
    if (w.fix !== null) timer = setTimeout(update, untilOlder(w.fix, now));
    marker.show(w.fix, w.trouble, now);
    const back = w.fix === null ? null : wayBackTo([w.fix.lon, w.fix.lat], ground);
    showHere(choice(), w, back, following, units, now);
    about.update(w, now);
    old(w.fix !== null && freshness(w.fix, w.trouble, now) === "old" ? oldText(w.fix, now) : null);
    if (following && back === null) keepInView(mapView, w, now);
  };
  // Moving the map ends following. (A listener that returns false would stop the drag event.)
  const leave = () => {
    if (following) follow(false);
  };
  mapView.map.on("pointerdrag", leave);
  byId("whole-job").addEventListener("click", leave);
  byId("map").addEventListener("keydown", (e) => {
    if (e.key.startsWith("Arrow")) leave();
  });
  document.addEventListener("visibilitychange", update);
  phone.setOn(choice() === "phone");
  made = true;
  update();
  return { page, now: here, spot: () => positionSpot(here(), units, Date.now()) };
}

/** The age of a fix, in steps of ten seconds: nobody has to read a line that changes each second. */
function oldText(s: Fix, now: number): string {
  const age = ageOf(s, now);
  return Number.isFinite(age) ? durationText(Math.floor(age / 10_000) * 10) : "";
}

/** The time until the age of a fix reads differently, in milliseconds: ages are whole seconds first, and whole minutes from 100 s on. */
function untilOlder(s: Fix, now: number): number {
  const age = ageOf(s, now);
  const step = age < 100_000 ? 1000 : 60_000;
  return Number.isFinite(age) ? step - (age % step) : step;
}

function keepInView(mapView: MapView, { fix, trouble }: PositionState, now: number): void {
  if (fix === null || freshness(fix, trouble, now) === "old") return;
  const to = fromLonLat([fix.lon, fix.lat]);
  const [x, y] = mapView.view.getCenter() ?? [];
  const resolution = mapView.view.getResolution() ?? 1;
  if (x === undefined || y === undefined || Math.hypot(x - (to[0] ?? x), y - (to[1] ?? y)) < 2 * resolution) return;
  mapView.view.animate({ center: to, duration: 250 });
}

/** The stored choice; null before the first. */
function lastChoice(): Choice | null {
  const kept = getStored(storedChoice);
  return kept === "receiver" || kept === "phone" || kept === "off" ? kept : null;
}
