// The sheet about one's position: whose it is, and all that is known of it.
import { make } from "./dom";
import { dateText } from "./dates";
import {
  clocksApart, clockText, decimalsOf, errorText, frameText, groundsText, headText, upText, whenText, type Sight, type Whereabouts,
} from "./positionsight";
import { say } from "./words";
import type { Phone, Receiver } from "./positionsource";
import type { Units } from "./units";

/** Whose position is shown. */
export type Choice = "receiver" | "phone" | "off";


interface Parts {
  receiver: Receiver;
  phone: Phone;
  units: Units;
  choice(): Choice;
  choose(c: Choice): void;
}

export interface PositionSheet {
  body(): Node[];
  /** Brings what it tells up to date, without touching what has the focus. */
  update(here: Whereabouts, now: number): void;
}

export function makePositionSheet(parts: Parts): PositionSheet {
  const told = make("div", "told");
  const choices = new Map<Choice, { input: HTMLInputElement; words: HTMLElement }>();
  const fields = make("fieldset", "choices whose", make("legend", "", "Whose position?"));
  for (const [choice, title] of [["receiver", "The receiver on the laptop"], ["phone", "This device"], ["off", "None"]] as const) {
    const input = make("input", "");
    input.type = "radio";
    input.name = "whose-position";
    input.value = choice;
    input.addEventListener("change", () => parts.choose(choice));
    const words = make("span", "");
    fields.append(make("label", "", input, make("span", "record", make("b", "", title), words)));
    choices.set(choice, { input, words });
  }
  let shown = "";
  return {
    body: () => [
      make("p", "fixed", "A dot may be off by all of its circle, and more: do not mark or dig by it."),
      fields, told,
      make("p", "", "The circle holds the true place 95 times of 100, as far as the receiver itself can tell. The dot fades after 5 s without a new position; after 30 s it is hollow and without a circle."),
    ],
    update(here, now) {
      for (const [choice, { input, words }] of choices) {
        input.checked = parts.choice() === choice;
        input.disabled = choice === "phone" && parts.phone.reason !== "";
        write(words, choiceText(choice, parts));
      }
      const rows = rowsOf(here, parts, now);
      if (JSON.stringify(rows) === shown) return;
      shown = JSON.stringify(rows);
      told.replaceChildren(make("dl", "", ...rows.flatMap(([t, d]) => [make("dt", "", t), make("dd", "", d)])));
    },
  };
}

/** Writes only what is new, so that nothing that is read aloud begins again. */
export function write(e: HTMLElement, text: string): void {
  if (e.textContent !== text) e.textContent = text;
}

/** What a phone under open sky is off by at 95 %, in metres: what the operator of GPS tells of phones. */
const phoneOff = 4.9;

function choiceText(choice: Choice, { receiver, phone, units }: Parts): string {
  switch (choice) {
    case "receiver": return receiver.name === "" ? "No receiver is connected to the laptop." : `${receiver.name}. The dot is where its antenna is, not where this device is.`;
    case "phone": return phone.reason !== "" ? phone.reason : `As this device finds it by itself: under open sky often ${upText(phoneOff, units)} off, elsewhere more.`;
    case "off": return "No dot is shown.";
  }
}

function rowsOf(here: Whereabouts, parts: Parts, now: number): [string, string][] {
  const rows: [string, string][] = [];
  if (parts.choice() === "off") return rows;
  if (here.trouble !== "") rows.push(["Now", here.trouble]);
  if (here.sight !== null) rows.push(...sightRows(here.sight, parts.units, now));
  else if (here.trouble === "") rows.push(["Now", "No position yet."]);
  if (parts.choice() === "receiver" && parts.receiver.refused !== "") rows.push(["Not understood", parts.receiver.refused]);
  return rows;
}

function sightRows(s: Sight, units: Units, now: number): [string, string][] {
  const rows: [string, string][] = [
    ["How", headText(s)],
    ["How far off", `${errorText(s, units)}. ${groundsText(s)}`],
    ["When", whenText(s, now)],
    ["Latitude", `${s.lat.toFixed(decimalsOf(s))}°`],
    ["Longitude", `${s.lon.toFixed(decimalsOf(s))}°`],
  ];
  if (s.satellites >= 0) rows.push(["Satellites", `${s.satellites} in use`]);
  if (s.corrections !== null) rows.push(["Corrections", say("position.corrections", { seconds: Math.round(s.corrections) })]);
  const frame = frameText(s, units);
  if (frame !== "") rows.push(["Frame", frame]);
  if (s.hdop > 0) rows.push(["HDOP", String(s.hdop)]);
  if (s.time !== "") rows.push(["Receiver’s time", dateText(s.time, new Date(now))]);
  if (s.time !== "" && !s.recorded && Math.abs(s.ahead) >= clocksApart) {
    rows.push(["Clocks differ", `The receiver’s clock is ${clockText(s.ahead)} ${s.ahead > 0 ? "ahead of" : "behind"} the laptop’s: one of them is wrong${s.ahead < 0 ? ", or its positions come late" : ""}.`]);
  }
  return rows;
}
