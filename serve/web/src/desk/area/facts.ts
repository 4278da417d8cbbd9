// The job's facts as a form. What is wrong with a value stands beside it before anything is written.
import { make, makeButton, makeInput, setText } from "../../shared/lib/dom";
import { say } from "../../shared/lib/words";
import { type Problem, problemText } from "../app/api";
import type { Desk, Job } from "../app/desk";

interface Facts {
  etag: string;
  name: string;
  number: string;
  units: string;
  one_call: string;
  margin: string;
  reading: string;
  ticket: { number: string; valid_until: string };
  expected: string[];
  utilities: { code: string; label: string }[];
}

interface Change {
  key: string;
  value: unknown;
}

/** How long typing rests before it is judged, in milliseconds. */
const rest = 350;

export async function openFacts(desk: Desk, job: Job): Promise<void> {
  const facts = await desk.api.get<Facts>(`/api/jobs/${job.id}/facts`);
  const dialog = desk.dialog(say("facts.title"));
  const form = make("form", "facts");
  const faults = new Map<string, HTMLElement>();
  const inputs = new Map<string, () => unknown>();
  const before = new Map<string, string>();
  let timer: ReturnType<typeof setTimeout> | undefined;
  const add = (key: string, label: string, control: HTMLElement, read: () => unknown, hint = "") => {
    const l = make("label", "", label);
    control.id = `fact-${key.replace(".", "-")}`;
    l.htmlFor = control.id;
    const bad = make("p", "no");
    bad.id = `${control.id}-bad`;
    bad.setAttribute("role", "status");
    control.setAttribute("aria-describedby", bad.id);
    faults.set(key, bad);
    inputs.set(key, read);
    before.set(key, JSON.stringify(read()));
    form.append(make("div", "fact", l, make("div", "", control, ...(hint === "" ? [] : [make("small", "", hint)]), bad)));
  };
  const text = (key: string, label: string, value: string, hint = "", type = "text") => {
    const input = make("input", "");
    Object.assign(input, { type, value, autocomplete: "off" });
    add(key, label, input, () => (input.value.trim() === "" ? null : input.value.trim()), hint);
  };
  text("name", say("facts.name"), facts.name);
  text("number", say("facts.number"), facts.number);
  const units = make("select", "", new Option(say("facts.us"), "us"), new Option(say("facts.metric"), "metric"));
  units.value = facts.units;
  add("units", say("facts.units"), units, () => units.value);
  text("margin", say("facts.margin"), facts.margin, say("facts.margin_hint"));
  text("reading", say("facts.reading"), facts.reading, say("facts.reading_hint"));
  text("one_call", say("facts.one_call"), facts.one_call);
  text("ticket.number", say("facts.ticket"), facts.ticket.number);
  text("ticket.valid_until", say("facts.valid_until"), facts.ticket.valid_until, "", "date");
  const boxes = facts.utilities.filter((u) => u.code !== "survey" && u.code !== "proposed").map((u) => ({ code: u.code, input: makeInput("checkbox", facts.expected.includes(u.code), () => judge()), label: u.label }));
  const others = facts.expected.filter((c) => !boxes.some((b) => b.code === c));
  const group = make("div", "boxes", ...boxes.map((b) => make("label", "", b.input, b.label)));
  group.setAttribute("role", "group");
  group.setAttribute("aria-label", say("facts.expected"));
  add("expected", say("facts.expected"), group, () => {
    const ticked = [...facts.expected.filter((c) => others.includes(c) || boxes.some((b) => b.code === c && b.input.checked)), ...boxes.filter((b) => b.input.checked && !facts.expected.includes(b.code)).map((b) => b.code)];
    return ticked.length === 0 ? null : ticked;
  });
  before.set("expected", JSON.stringify(facts.expected.length === 0 ? null : facts.expected));

  const changes = (): Change[] => [...inputs].filter(([key, read]) => JSON.stringify(read()) !== before.get(key)).map(([key, read]) => ({ key, value: read() }));
  const save = makeButton([say("facts.save")], () => void write());
  save.className = "main";
  const show = (problems: Record<string, Problem>) => {
    for (const [key, bad] of faults) setText(bad, problems[key] === undefined ? "" : problemText({ ...problems[key], where: "" }));
    save.disabled = changes().length === 0 || Object.keys(problems).length > 0;
  };
  const judge = () => {
    clearTimeout(timer);
    save.disabled = true;
    timer = setTimeout(() => void desk.api.post<{ problems: Record<string, Problem> }>(`/api/jobs/${job.id}/try`, { changes: changes() }).then((r) => show(r.problems)).catch(desk.fail), rest);
  };
  async function write(): Promise<void> {
    try {
      await desk.api.post(`/api/jobs/${job.id}/set`, { etag: facts.etag, changes: folded(changes(), facts) });
      dialog.close();
      await desk.reload();
    } catch (e) {
      desk.fail(e);
    }
  }
  form.addEventListener("input", judge);
  form.addEventListener("submit", (e) => {
    e.preventDefault();
    if (!save.disabled) void write();
  });
  dialog.body.append(form);
  dialog.foot.append(save);
  show({});
}

/** A ticket of which nothing is left goes whole. */
function folded(changes: Change[], { ticket }: Facts): Change[] {
  const now = { ...ticket };
  for (const c of changes) {
    if (c.key === "ticket.number") now.number = String(c.value ?? "");
    if (c.key === "ticket.valid_until") now.valid_until = String(c.value ?? "");
  }
  const touched = changes.some((c) => c.key.startsWith("ticket."));
  if (!touched || now.number !== "" || now.valid_until !== "") return changes;
  return [...changes.filter((c) => !c.key.startsWith("ticket.")), { key: "ticket", value: null }];
}
