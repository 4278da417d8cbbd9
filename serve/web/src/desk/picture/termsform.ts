// The terms of a provider as questions. Each wants an answer of the person's own: none is
// filled in, and "they state nothing" is an answer too.
import { make, makeInput, setText } from "../../shared/lib/dom";
import { say } from "../../shared/lib/words";

export interface Field {
  box: HTMLElement;
  input: HTMLInputElement;
}

/** A labelled line to type into, with a word of help. */
export function field(label: string, help = ""): Field {
  const input = make("input", "");
  input.autocomplete = "off";
  input.spellcheck = false;
  return { box: make("label", "", make("span", "", label), input, ...(help === "" ? [] : [make("small", "", help)])), input };
}

interface Question {
  key: string;
  ask: string;
  /** answers to pick from; a text to type when there are none */
  pick?: [value: string, text: string][];
  help?: string;
  /** "they state nothing" is no answer to it */
  must?: boolean;
  /** asked when this holds */
  when?: (offline: string | null) => boolean;
}

interface TermsForm {
  box: HTMLElement;
  /** null = not answered; "" = the terms state nothing */
  answers(): Record<string, string | null>;
  /** Shows what is wrong at a question; false when there is none of that name. */
  mark(key: string, what: string): boolean;
}

const uses = (offline: string | null) => offline !== "forbidden";
const permitted = (offline: string | null) => offline === "permission";

/** What is asked of a server's terms alone. */
const ofServer = ["requests_per_second", "connections", "tiles_per_day", "hours"];

const questions = (): Question[] => [
  { key: "offline", ask: say("under.q_offline"), must: true, pick: [["allowed", say("under.q_allowed")], ["permission", say("under.q_permission")], ["forbidden", say("under.q_forbidden")]] },
  { key: "reference", ask: say("under.q_reference"), help: say("under.q_reference_help"), must: true },
  { key: "permission_by", ask: say("under.q_by"), must: true, when: permitted },
  { key: "permission_on", ask: say("under.q_on"), help: say("under.q_on_help"), must: true, when: permitted },
  { key: "permission_reference", ask: say("under.q_letter"), when: permitted },
  { key: "copies_on_phones", ask: say("under.q_copies"), pick: [["allowed", say("under.q_yes")], ["forbidden", say("under.q_no")]], when: uses },
  { key: "requests_per_second", ask: say("under.q_pace"), help: say("under.q_pace_help"), when: uses },
  { key: "connections", ask: say("under.q_connections"), help: say("under.q_connections_help"), when: uses },
  { key: "tiles_per_day", ask: say("under.q_day"), when: uses },
  { key: "hours", ask: say("under.q_hours"), help: say("under.q_hours_help"), when: uses },
  { key: "keep_at_most", ask: say("under.q_keep"), help: say("under.q_keep_help"), when: uses },
];

interface Asked {
  q: Question;
  box: HTMLElement;
  bad: HTMLElement;
  answer(): string | null;
}

/** `local`: it is a file on this computer, which is asked at any pace and hour. */
export function termsForm(local: boolean): TermsForm {
  const all = questions().map((q) => askOne(q, show));
  const zone = field(say("under.q_zone"), say("under.q_zone_help"));
  const contact = field(say("under.q_contact"));
  const box = make("div", "form", ...all.map((a) => a.box), zone.box, contact.box);
  const offline = () => all[0]?.answer() ?? null;
  const asked = (a: Asked) => (a.q.when === undefined || a.q.when(offline())) && !(local && ofServer.includes(a.q.key));
  function show(): void {
    for (const a of all) a.box.hidden = !asked(a);
    const hours = all.find((a) => a.q.key === "hours");
    zone.box.hidden = hours === undefined || hours.box.hidden || (hours.answer() ?? "") === "";
  }
  show();
  return {
    box,
    answers: () => ({
      ...Object.fromEntries(all.map((a) => [a.q.key, asked(a) ? a.answer() : local && ofServer.includes(a.q.key) ? "" : null])),
      time_zone: zone.input.value, contact: contact.input.value,
    }),
    mark(key, what) {
      for (const a of all) setText(a.bad, a.q.key === key ? what : "");
      const at = all.find((a) => a.q.key === key);
      at?.box.querySelector("input")?.focus();
      return at !== undefined;
    },
  };
}

let count = 0;

function askOne(q: Question, changed: () => void): Asked {
  const bad = make("span", "bad");
  bad.setAttribute("role", "alert");
  const name = `terms-${q.key}-${++count}`;
  let picked: string | null = null;
  const radio = (text: string, value: string | null) => {
    const input = makeInput("radio", false, () => {
      picked = value;
      setText(bad, "");
      changed();
    });
    input.name = name;
    return { input, box: make("label", "", input, text) };
  };
  const row = make("div", "pick");
  const text = make("input", "");
  text.setAttribute("aria-label", q.ask);
  text.autocomplete = "off";
  text.addEventListener("input", () => {
    setText(bad, "");
    changed();
  });
  let answer: () => string | null;
  if (q.pick !== undefined) {
    row.append(...q.pick.map(([value, words]) => radio(words, value).box));
    answer = () => picked;
  } else if (q.must === true) {
    row.append(text);
    answer = () => (text.value.trim() === "" ? null : text.value);
  } else {
    row.append(text);
    answer = () => (text.value.trim() !== "" ? text.value : picked);
  }
  if (q.must !== true) {
    const nothing = radio(say("under.q_nothing"), "");
    row.append(nothing.box);
    text.addEventListener("input", () => {
      if (q.pick === undefined && text.value !== "") [nothing.input.checked, picked] = [false, null];
    });
    nothing.input.addEventListener("change", () => { text.value = ""; });
  }
  const box = make("fieldset", "", make("legend", "", q.ask), row, ...(q.help === undefined ? [] : [make("small", "", q.help)]), bad);
  return { q, box, bad, answer };
}
