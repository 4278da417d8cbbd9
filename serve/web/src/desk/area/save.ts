// What was drawn goes into the job's files, or becomes a job of its own.
import { make, makeButton } from "../../shared/lib/dom";
import { say } from "../../shared/lib/words";
import { Refused } from "../app/api";
import { choices, chosenSource } from "../app/cell";
import type { Desk, Job } from "../app/desk";
import type { Odd } from "./bar";
import type { Draft } from "./draft";
import type { Shape } from "./shapes";

interface Saved {
  shapes: Shape[];
  dropped: { file: string; along: boolean }[];
}

/** Saves what was drawn, after what is odd of it was asked; null = it was not saved, "theirs" = the job's own area is taken. */
export async function saveDraft(desk: Desk, d: Draft, odd: Odd[], margin: string): Promise<Job | "theirs" | null> {
  const asks = odd.filter((o) => !o.wrong);
  if (asks.length > 0 && await desk.ask(asks.map((o) => o.what).join(" "), [say("draw.not_yet"), say("draw.is_meant")]) !== say("draw.is_meant")) return null;
  const body = { shapes: d.history.now, dropped: d.dropped };
  return d.job === null ? makeJob(desk, margin, body) : saveInto(desk, { job: d.job, etag: d.etag, saved: d.saved }, body);
}

/**
 * Saves into a job. When the job was changed meanwhile, but not its area, it is saved all the same;
 * else the person is asked: null = the drawing stays as it is, "theirs" = the job's area is taken.
 */
async function saveInto(desk: Desk, at: { job: string; etag: string; saved: Shape[] }, s: Saved): Promise<Job | "theirs" | null> {
  const post = (etag: string) => desk.api.post<Job>(`/api/jobs/${at.job}/area`, { etag, ...s });
  try {
    return await post(at.etag);
  } catch (e) {
    if (!(e instanceof Refused) || e.status !== 409) throw e;
    const now = await desk.api.get<{ etag: string; shapes: Shape[] }>(`/api/jobs/${at.job}/area`);
    if (now.etag === at.etag) throw e; // somebody is writing into the folder
    if (JSON.stringify(now.shapes) === JSON.stringify(at.saved)) return post(now.etag);
  }
  const theirs = say("draw.take_theirs");
  return await desk.ask(say("draw.changed"), [say("draw.keep"), theirs]) === theirs ? "theirs" : null;
}

/** Asks what a new job needs, and makes it; null when it was not made. */
async function makeJob(desk: Desk, margin: string, s: Saved): Promise<Job | null> {
  const { places } = await desk.api.get<{ places: { folder: string; gone: boolean }[] }>("/api/state");
  const dialog = desk.dialog(say("draw.new_job"));
  const field = (id: string, label: string, control: HTMLElement) => {
    control.id = `new-${id}`;
    const l = make("label", "", label);
    l.htmlFor = control.id;
    return make("div", "fact", l, make("div", "", control));
  };
  const input = (type = "text") => Object.assign(make("input", ""), { type, autocomplete: "off" });
  const [name, number, ticket, until] = [input(), input(), input(), input("date")];
  const units = make("select", "", new Option(say("facts.us"), "us"), new Option(say("facts.metric"), "metric"));
  const place = make("select", "", ...places.filter((p) => !p.gone).map((p) => new Option(p.folder, p.folder)));
  const bad = make("p", "no");
  bad.setAttribute("role", "alert");
  const form = make("form", "facts", field("name", say("facts.name"), name), field("number", say("facts.number"), number), field("units", say("facts.units"), units),
    field("ticket", say("facts.ticket"), ticket), field("until", say("facts.valid_until"), until), field("place", say("draw.folder"), place), bad);
  let made: Job | null = null;
  const make_ = makeButton([say("draw.make_it")], () => undefined);
  make_.className = "main";
  make_.type = "submit";
  form.id = "new-form";
  make_.setAttribute("form", form.id);
  form.addEventListener("submit", (e) => {
    e.preventDefault();
    make_.disabled = true;
    const body = { place: place.value, name: name.value, number: number.value, units: units.value, margin, source: chosenSource.value, ticket: { number: ticket.value, valid_until: until.value }, set: choices.value, ...s };
    desk.api.post<Job>("/api/jobs", body).then((job) => {
      made = job;
      dialog.close();
    }).catch((err: unknown) => {
      bad.textContent = err instanceof Error ? err.message : String(err);
      make_.disabled = false;
    });
  });
  dialog.body.append(form);
  dialog.foot.append(make_);
  name.focus();
  await dialog.closed;
  return made;
}
