// Sheets that ask for one thing: who marks, a typed place, why a mark is struck.
import { make, makeButton } from "../../shared/lib/dom";
import { say } from "../../shared/lib/words";
import { placeInput } from "../../shared/measure/placeinput";
import type { Sheet } from "../../shared/shell/sheet";
import type { Session } from "../app/parts";
import { textField } from "./field";
import { atTyped, type Place } from "./place";
import { setWriterName, writerName } from "./writer";

/** A sheet with one field and one button, which waits for a text. */
function askText(sheet: Sheet, { title, label, hint, button, value, long = false }: Record<"title" | "label" | "hint" | "button" | "value", string> & { long?: boolean }, done: (text: string) => void): void {
  let text = value;
  sheet.open({
    title,
    body: () => {
      const form = make("form", "mark-form", textField(label, { value, hint, long, most: long ? 500 : 80, changed: (v) => { text = v; } }));
      const go = Object.assign(makeButton([button], () => undefined), { type: "submit", className: "wide take" });
      form.append(go);
      form.addEventListener("submit", (e) => {
        e.preventDefault();
        if (text.trim() === "") return form.querySelector<HTMLElement>("input, textarea")?.focus();
        sheet.close();
        done(text.trim());
      });
      return [form];
    },
  });
  document.querySelector<HTMLElement>("#sheet-body .mark-form :is(input, textarea)")?.focus();
}

/** Asks once per phone who marks. */
export function askWriter(sheet: Sheet, then: () => void): void {
  askText(sheet, { title: say("marking.who_title"), label: say("marking.who"), hint: say("marking.who_hint"), button: say("marking.who_go"), value: writerName() }, (name) => {
    setWriterName(name);
    then();
  });
}

/** Asks why a mark is struck. */
export function askWhy(sheet: Sheet, then: (why: string) => void): void {
  askText(sheet, { title: say("marking.strike_title"), label: say("marking.why"), hint: say("marking.why_hint"), button: say("marking.strike"), value: "", long: true }, then);
}

/** Asks for a place in coordinates. */
export function typePlace({ sheet, about, base, job }: Session, then: (place: Place) => void): void {
  sheet.open({
    title: say("tie.type_title"),
    body: () => [placeInput({ label: say("tie.type_label"), units: about.units, job, picture: base.extent, choose: (r) => {
      sheet.close();
      then(atTyped([r.lon, r.lat]));
    } })],
  });
}
