// The user's position: the bar over the map, the marker, following, and the way back to the job.
import type Geometry from "ol/geom/Geometry";
import { fromLonLat } from "ol/proj";
import { byId, make, makeButton, setAttribute, setHidden, setText, svg } from "../../shared/lib/dom";
import { getStored, setStored } from "../../shared/lib/storage";
import { distanceText, type Units } from "../../shared/lib/units";
import { keepAwake } from "../../shared/lib/wakelock";
import { say } from "../../shared/lib/words";
import type { MapView } from "../../shared/map/mapview";
import type { Spot } from "../../shared/measure/doubt";
import type { Page, Sheet } from "../../shared/shell/sheet";
import type { Events } from "../live/events";
import { barText } from "./bartext";
import { ageOf, type Fix, freshness, type PositionState } from "./fix";
import { type IsFree, makeMarker } from "./marker";
import { type Choice, makePositionSheet } from "./sheet";
import { followPhone, followReceiver } from "./source";
import { positionSpot } from "./spot";
import { type WayBack, wayBackTo } from "./wayback";
import "./position.css";

const storedChoice = "position";

export interface Position {
  /** the sheet about it */
  page: Page;
  /** the position as one end of a tape; a sentence where there is none */
  spot(): Spot | string;
}

/** Shows the user's position on a map; `ground` is the shape of the job, `isFree` keeps the mark's words clear of records. */
export function makePosition(mapView: MapView, ground: Geometry[], units: Units, sheet: Sheet, events: Events, isFree: IsFree): Position {
  const showBar = makeBar(() => sheet.toggle(page), () => follow(!following));
  const marker = makeMarker(mapView.map, isFree);
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
    showBar(choice(), w, back, following, units, now);
    about.update(w, now);
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
  return { page, spot: () => positionSpot(here(), units, Date.now()) };
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

type ShowBar = (choice: Choice, here: PositionState, back: WayBack | null, following: boolean, units: Units, now: number) => void;

/** Adds the bar above the toast; returns the function that updates it. */
function makeBar(toggle: () => void, toggleFollow: () => void): ShowBar {
  const head = make("b", "");
  const rest = make("span", "");
  const open = Object.assign(makeButton([head, " ", rest], toggle), { id: "position-open" });
  const follow = Object.assign(makeButton([say("position.follow")], toggleFollow), { id: "position-follow" });
  const arrow = svg("svg", { viewBox: "0 0 40 40", width: 40, height: 40, "aria-hidden": "true" },
    svg("path", { d: "M20 3 L33 34 L20 27 L7 34 Z" }));
  const backWords = make("span", "");
  const backLine = make("p", "", arrow, backWords);
  backLine.id = "position-back";
  const aloud = make("p", "unseen");
  aloud.id = "position-aloud";
  aloud.setAttribute("role", "status");
  const line = make("div", "", open, follow);
  line.id = "position";
  byId("toast").before(line, backLine, aloud);
  return (choice, here, back, following, units, now) => {
    const text = barText(choice, here, units, now);
    setAttribute(line, "data-state", text.state);
    setText(head, text.head);
    setText(rest, text.rest);
    setHidden(follow, here.fix === null);
    setAttribute(follow, "aria-pressed", String(following));
    setText(follow, following ? say("position.following") : say("position.follow"));
    setHidden(backLine, back === null);
    const turn = `rotate(${Math.round(back?.bearing ?? 0)}deg)`;
    if (arrow.style.transform !== turn) arrow.style.transform = turn;
    setText(backWords, back === null ? "" : backText(here, back, following, units));
    // Aloud only what rarely changes: no age, no distance.
    setText(aloud, [text.aloud, back === null ? "" : say("position.back_aloud", { off: offText(here, back), direction: back.direction })].join(" ").trim());
  };
}

function backText(here: PositionState, back: WayBack, following: boolean, units: Units): string {
  const [off, far] = [offText(here, back), distanceText(back.metres, units)];
  return following ? say("position.back_still", { off, far, direction: back.direction }) : say("position.back", { off, far, direction: back.direction });
}

// If the circle reaches the ground of the job, the user may be on it.
function offText({ fix }: PositionState, back: WayBack): string {
  return fix !== null && fix.error >= back.metres ? say("position.perhaps_off_job") : say("position.off_job");
}

/** The stored choice; null before the first. */
function lastChoice(): Choice | null {
  const kept = getStored(storedChoice);
  return kept === "receiver" || kept === "phone" || kept === "off" ? kept : null;
}
