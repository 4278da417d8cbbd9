// The sheet about the user's position: its source, and all details.
import { dateText, timeOfDay } from "../../shared/lib/dates";
import { definitionList, make, makeInput, setText } from "../../shared/lib/dom";
import { roundedUpText, type Units } from "../../shared/lib/units";
import { say } from "../../shared/lib/words";
import {
  clocksDisagree, corrected, degreeDigits, durationText, errorText, type Fix, groundsText, headText,
  type PositionState, whenText,
} from "./fix";
import { frameText } from "./frame";
import type { PhoneSource, ReceiverSource } from "./source";

/** The source of the position. */
export type Choice = "receiver" | "phone" | "off";

interface Parts {
  receiver: ReceiverSource;
  phone: PhoneSource;
  units: Units;
  choice(): Choice;
  choose(c: Choice): void;
}

interface PositionSheet {
  body(): Node[];
  /** Updates the details without touching the control that has the focus. */
  update(here: PositionState, now: number): void;
}

export function makePositionSheet(parts: Parts): PositionSheet {
  const details = make("div", "told");
  const choices = new Map<Choice, { input: HTMLInputElement; words: HTMLElement }>();
  const fields = make("fieldset", "choices whose", make("legend", "", say("position.whose")));
  for (const [choice, title] of [["receiver", say("position.receiver")], ["phone", say("position.phone")], ["off", say("position.off")]] as const) {
    const input = Object.assign(makeInput("radio", false, () => parts.choose(choice)), { name: "whose-position", value: choice });
    const words = make("span", "");
    fields.append(make("label", "", input, make("span", "record", make("b", "", title), words)));
    choices.set(choice, { input, words });
  }
  let shown = "";
  return {
    body: () => [
      make("p", "fixed", say("position.caution")),
      fields, details,
      make("p", "", say("position.circle")),
    ],
    update(here, now) {
      for (const [choice, { input, words }] of choices) {
        input.checked = parts.choice() === choice;
        input.disabled = choice === "phone" && parts.phone.reason !== "";
        setText(words, choiceText(choice, parts));
      }
      const rows = rowsOf(here, parts, now);
      if (JSON.stringify(rows) === shown) return;
      shown = JSON.stringify(rows);
      details.replaceChildren(definitionList(rows));
    },
  };
}

/** The 95 % error of a phone under open sky, in meters, according to the operator of GPS. */
const phoneOff = 4.9;

function choiceText(choice: Choice, { receiver, phone, units }: Parts): string {
  switch (choice) {
    case "receiver": return receiver.name === "" ? say("position.no_receiver") : say("position.antenna", { receiver: receiver.name });
    case "phone": return phone.reason !== "" ? phone.reason : say("position.phone_words", { off: roundedUpText(phoneOff, units) });
    case "off": return say("position.no_dot");
  }
}

function rowsOf(here: PositionState, parts: Parts, now: number): [string, string][] {
  const rows: [string, string][] = [];
  if (parts.choice() === "off") return rows;
  if (here.trouble !== "") rows.push([say("position.now"), here.trouble]);
  if (here.fix !== null) rows.push(...sightRows(here.fix, parts.units, now));
  else if (here.trouble === "") rows.push([say("position.now"), say("position.none_yet")]);
  if (parts.choice() === "receiver" && parts.receiver.refused !== "") rows.push([say("position.refused"), parts.receiver.refused]);
  return rows;
}

function sightRows(s: Fix, units: Units, now: number): [string, string][] {
  const digits = degreeDigits(s.error);
  const rows: [string, string][] = [
    [say("position.how"), headText(s)],
    [say("position.how_far"), say("position.how_far_words", { error: errorText(s, units), grounds: groundsText(s, units) })],
    [say("position.when"), whenText(s, now)],
  ];
  if (corrected(s)) rows.push([say("position.corrections_row"), correctionsText(s)]);
  const frame = frameText(s, units);
  if (frame !== "") rows.push([say("position.frame"), frame]);
  rows.push([say("position.latitude"), `${s.lat.toFixed(digits)}°`], [say("position.longitude"), `${s.lon.toFixed(digits)}°`]);
  if (s.satellites >= 0) rows.push([say("position.satellites"), say("position.satellites_used", { n: s.satellites })]);
  if (s.hdop > 0) rows.push(["HDOP", String(s.hdop)]);
  if (s.time !== "") rows.push([say("position.time"), dateText(s.time, new Date(now))]);
  else if (s.clock !== null) rows.push([say("position.time"), say("position.day_not_stated", { clock: clockOfDay(s.clock, now) })]);
  if (clocksDisagree(s) && s.ahead !== null) {
    const span = durationText(s.ahead);
    rows.push([say("position.clocks"), s.ahead < 0 ? say("position.clocks_behind", { span }) : say("position.clocks_ahead", { span })]);
  }
  return rows;
}

// Without a day, the local zone of today applies.
function clockOfDay(utc: string, now: number): string {
  const t = new Date(`${new Date(now).toISOString().slice(0, 10)}T${utc}Z`);
  return Number.isNaN(t.getTime()) ? `${utc} UTC` : timeOfDay(t);
}

function correctionsText(s: Fix): string {
  if (s.correction === null) return say("position.corrections_unknown");
  const age = durationText(s.correction);
  return s.station === null ? say("position.corrections", { age }) : say("position.corrections_station", { station: s.station, age });
}
