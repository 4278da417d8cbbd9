// The sheet behind “More”: all that a mark can say besides what the pad shows.
import type { Units } from "../../shared/lib/units";
import { foot } from "../../shared/lib/units";
import { make, makeButton } from "../../shared/lib/dom";
import { errorMessage } from "../../shared/lib/http";
import { say } from "../../shared/lib/words";
import type { Page } from "../../shared/shell/sheet";
import type { Draft } from "./draft";
import { numberIn, selectField, textField } from "./field";
import { levelOf, levelsFor, methodOf } from "./methods";
import { shrunkPhoto } from "./photo";
import type { KeptPhoto } from "./store";

interface MoreParts {
  units: Units;
  pack: string;
  draft(): Draft;
  change(part: Partial<Draft>): void;
  /** Takes a photo that goes with the next mark. */
  photo(kept: KeptPhoto): void;
  /** "" where photos can be kept, else why not */
  noPhotos: string;
  typePlace(): void;
  marks(): void;
  redraw(): void;
  close(): void;
}

export function morePage(parts: MoreParts): Page {
  return { title: say("marking.more_title"), body: () => [form(parts)] };
}

function form(parts: MoreParts): HTMLElement {
  const { draft, change, units } = parts;
  const d = draft();
  const method = methodOf(d.method);
  const fields: Node[] = [];
  if (d.kind === "unlocatable") fields.push(textField(say("marking.reason"), { value: d.reason, long: true, most: 500, hint: say("marking.reason_hint"), changed: (reason) => change({ reason }) }));
  const surface = d.kind === "surface feature";
  const label = textField(surface ? say("marking.which_surface") : say("marking.label"), { value: d.label, hint: surface ? say("marking.surface_hint") : say("marking.label_hint"), changed: (text) => change({ label: text }) });
  if (surface) fields.push(label);
  fields.push(photoPart(parts));
  fields.push(textField(say("marking.note"), { value: d.note, long: true, most: 2000, changed: (note) => change({ note }) }));
  if (!surface) fields.push(label);
  if (d.kind === "reading" && method?.signal === true) {
    fields.push(make("div", "mark-pair",
      textField(say("marking.frequency"), { value: d.hertz === null ? "" : String(d.hertz / 1000), mode: "decimal", changed: (v) => change({ hertz: khz(v) }) }),
      textField(say("marking.current"), { value: d.current === null ? "" : String(d.current), mode: "decimal", changed: (v) => change({ current: numberIn(v) }) })));
  }
  const levels = levelsFor(d.kind, d.method);
  if (levels.length > 0) {
    fields.push(selectField(say("marking.level"), levels.map((l) => [l, levelWords(l)]), levelOf(d.kind, d.method, d.level), (level) => change({ level })));
    fields.push(make("p", "hint", say("marking.level_limit")));
  }
  fields.push(textField(say("marking.owner"), { value: d.owner, changed: (owner) => change({ owner }) }));
  fields.push(make("h3", "", say("marking.place_head")));
  fields.push(selectField(say("marking.average"), [0, 5, 15, 60].map((s) => [String(s), s === 0 ? say("marking.average_none") : say("marking.average_s", { n: s })]), String(d.average), (v) => change({ average: Number(v) })));
  const unit = units === "us" ? "ft" : "m";
  const per = units === "us" ? foot : 1;
  fields.push(textField(say("marking.antenna", { unit }), {
    value: d.antenna === null ? "" : String(Math.round((d.antenna / per) * 1000) / 1000), mode: "decimal",
    changed: (v) => change({ antenna: scaled(numberIn(v), per) }),
  }));
  fields.push(wide(say("marking.type_place"), parts.typePlace), wide(say("marking.marks_here"), parts.marks));
  fields.push(Object.assign(makeButton([say("marking.back_to_pad")], parts.close), { className: "wide take" }));
  return make("div", "mark-form", ...fields);
}

const wide = (text: string, press: () => void): HTMLElement => Object.assign(makeButton([text], press), { className: "wide" });
const scaled = (v: number | null, by: number): number | null => (v === null ? null : v * by);
const khz = (text: string): number | null => scaled(numberIn(text), 1000);

function levelWords(level: string): string {
  switch (level) {
    case "A": return say("marking.level_a");
    case "B": return say("marking.level_b");
    case "C": return say("marking.level_c");
    default: return say("marking.level_d");
  }
}

/** Photos of the next mark: taken by the phone's own camera, or chosen. */
function photoPart({ draft, change, photo, noPhotos, pack, redraw }: MoreParts): HTMLElement {
  const { photos } = draft();
  const said = make("p", "hint", noPhotos !== "" ? noPhotos : photos.length === 0 ? say("marking.photo_hint") : say("marking.photos_taken", { n: photos.length }));
  said.setAttribute("role", "status");
  const input = Object.assign(make("input", ""), { type: "file", accept: "image/jpeg,image/png,image/*", id: "mark-photo", disabled: noPhotos !== "" });
  input.setAttribute("capture", "environment");
  input.addEventListener("change", () => {
    const file = input.files?.[0];
    if (file === undefined) return;
    said.textContent = say("marking.photo_working");
    shrunkPhoto(file, pack).then(
      ({ photo: taken, kept }) => {
        photo(kept);
        change({ photos: [...draft().photos.filter((p) => p.hash !== taken.hash), taken] });
        redraw();
      },
      (e: unknown) => { said.textContent = errorMessage(e); },
    );
  });
  const label = make("label", "mark-photo", say("marking.photo"), input);
  return make("div", "mark-field", label, said);
}
