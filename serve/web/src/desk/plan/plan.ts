// What it takes: tiles, megabytes, minutes and sharpness of what is drawn, while it is drawn.
import { make, makeInput, setChildren, setText } from "../../shared/lib/dom";
import { errorMessage } from "../../shared/lib/http";
import { pixelText } from "../../shared/lib/units";
import { say } from "../../shared/lib/words";
import { arrived, choices, chosenSource, drawing, planned } from "../app/cell";
import type { Desk } from "../app/desk";
import type { Choice, Drafted, ZoomPlan } from "../app/drafted";
import { makeKept } from "../app/kept";
import { drawOutline } from "./outline";
import { secondsText, sizeText } from "./texts";
import "./plan.css";

/** How many of the deepest zooms have a row of their own. */
const alone = 4;
/** How many choices are shown at once, besides the plan as it stands. */
const foremost = 3;
/** A drag moves on; the server is asked after it has been still for so long, in milliseconds. */
const pause = { quick: 60, whole: 250 };

export function mountPlan(desk: Desk): void {
  const panel = desk.panel("takes", say("takes.title"));
  const [table, sum, notes, cards] = [make("table", ""), make("div", "sum"), make("div", "notes"), make("fieldset", "choices")];
  const fit = make("input", "");
  fit.id = "fit-in";
  fit.placeholder = "200MB";
  const fitLabel = make("label", "", say("takes.fit_in"));
  fitLabel.htmlFor = fit.id;
  const fitRow = make("div", "fit", fitLabel, fit);
  fitRow.hidden = true;
  panel.body.append(sum, table, notes, fitRow, cards); // what it comes to stands first
  const box = panel.body.parentElement ?? panel.body;
  sum.setAttribute("role", "status");
  drawOutline(desk);

  const [legend, moreTitle, kept] = [make("legend", ""), make("summary", ""), makeKept<Card>()];
  const more = make("details", "");
  let running: AbortController | null = null;
  let timer: ReturnType<typeof setTimeout> | undefined;

  function request(quick: boolean): object | null {
    const [job, drawn] = [desk.job, drawing.value];
    if (drawn === null && (job === null || job.problem !== null) || drawn !== null && drawn.shapes.length === 0) return null;
    const source = job === null ? chosenSource.value : "";
    if (job === null && source === "") return null;
    const own = job === null ? Object.fromEntries(choices.value.map(({ key, value }) => [key.replace(/^base\[0\]\./, ""), value])) : {};
    return { job: job?.id ?? "", shapes: drawn?.shapes ?? null, margin: drawn?.margin ?? null, source: source || null, quick, ...own };
  }

  /** Asks for the plan of now; what was asked before and has not come is let go. */
  async function ask(quick: boolean): Promise<void> {
    running?.abort();
    const body = request(quick);
    if (body === null) {
      running = null;
      return show(null);
    }
    const mine = running = new AbortController();
    box.setAttribute("aria-busy", "true");
    if (planned.value === null) sum.replaceChildren(make("small", "", say("takes.working")));
    try {
      const now = await desk.api.post<Drafted>("/api/draft/plan", body, mine.signal);
      if (running === mine) show(quick ? { ...now, choices: planned.value?.choices ?? [] } : now);
    } catch (e) {
      if (running === mine) failed(errorMessage(e));
    } finally {
      if (running === mine) box.removeAttribute("aria-busy");
    }
  }

  function soon(): void {
    clearTimeout(timer);
    const resting = drawing.value?.resting ?? true;
    if (resting) timer = setTimeout(() => void ask(false), pause.whole);
    else timer = setTimeout(() => void ask(true).then(() => { if (drawing.value?.resting === true) soon(); }), pause.quick);
  }

  function failed(words: string): void {
    planned.set(null);
    panel.says("");
    fitRow.hidden = true;
    table.replaceChildren();
    cards.replaceChildren();
    sum.replaceChildren(make("p", "why", words));
    notes.replaceChildren();
  }

  function show(p: Drafted | null): void {
    planned.set(p);
    panel.says(p === null ? "" : sizeText(p.bytes_estimate), p !== null && !p.fits ? "no" : "");
    fitRow.hidden = p === null;
    fit.disabled = p === null;
    if (p === null) {
      failed("");
      sum.replaceChildren(make("small", "", desk.job === null && chosenSource.value === "" ? say("takes.no_source") : desk.job !== null && desk.job.problem !== null && drawing.value === null ? say("desk.not_read") : say("takes.nothing")));
      return;
    }
    const units = desk.job?.units ?? "us";
    const cell = (text: string | number) => make("td", "", String(text));
    table.replaceChildren(
      make("thead", "", make("tr", "", ...[say("takes.zoom"), say("takes.pixel"), say("takes.tiles"), say("takes.fetch"), say("takes.size")].map((t) => make("th", "", t)))),
      make("tbody", "", ...rowsOf(p.zooms).map((z) => make("tr", "", cell(z.name), cell(pixelText(z.ground_resolution_m, units)), cell(z.tiles.toLocaleString("en")), cell(z.fetch.toLocaleString("en")), cell(sizeText(z.bytes_estimate))))),
    );
    table.hidden = p.zooms.length === 0;
    const big = [say("takes.n_tiles", { n: p.tiles.toLocaleString("en") }), sizeText(p.bytes_estimate), ...(p.fetch > 0 ? [secondsText(p.seconds_estimate)] : [])].join(" · ");
    sum.replaceChildren(...(p.refused === null ? [] : [make("p", "why", p.refused)]), ...(p.zooms.length === 0 ? [] : [make("b", "", big), make("small", "", sumText(p))]));
    const lines = p.sharpness.map(sentence);
    if (p.days > 1) lines.push(say("takes.days", { n: p.days }));
    if (p.opens !== null && p.fetch > 0) lines.push(say("takes.opens", { when: momentText(p.opens) }));
    if (p.ends !== null && p.fetch > 0 && (p.days > 1 || p.opens !== null || p.seconds_estimate > 3600)) lines.push(say("takes.ends", { when: momentText(p.ends) }));
    if (p.terms !== "") lines.push(say("takes.terms", { terms: p.terms }));
    notes.replaceChildren(...p.odd.map((o) => make("p", "odd", o)), ...lines.map((l) => make("p", "", l)));
    drawChoices(p);
  }

  function drawChoices(p: Drafted): void {
    const had = cards.contains(document.activeElement);
    const all = p.choices.length < 2 ? [] : p.choices.map((c) => kept.of(c.write, () => makeCard((set) => void choose(set).catch(desk.fail))).draw(c));
    kept.done();
    const drawn = p.choices.findIndex((c) => c.gives_up === "");
    const first = all.filter((_, i) => i < foremost || i === drawn);
    const rest = all.filter((c) => !first.includes(c));
    setText(legend, p.fits ? say("takes.choices") : say("takes.too_large", { size: sizeText(p.fit_in) }));
    setText(moreTitle, say("takes.more", { n: rest.length }));
    setChildren(more, [moreTitle, ...rest]);
    setChildren(cards, [...(all.length === 0 ? [] : [legend, ...first]), ...(rest.length === 0 ? [] : [more])]);
    if (had && !cards.contains(document.activeElement)) cards.querySelector<HTMLInputElement>("input:checked")?.focus();
  }

  /** Writes what was chosen into the job; of one that is not made yet it is kept until then. */
  async function choose(changes: { key: string; value: unknown }[]): Promise<void> {
    if (changes.length === 0) return;
    const job = desk.job;
    if (job === null) {
      choices.set([...choices.value.filter((c) => !changes.some((n) => n.key === c.key)), ...changes]);
      return;
    }
    await desk.api.post(`/api/jobs/${job.id}/set`, { etag: job.etag, changes });
    await desk.reload();
  }

  fit.addEventListener("change", () => void choose([{ key: "fit_in", value: fit.value.trim() === "" ? null : fit.value.trim() }]).catch((e: unknown) => {
    desk.fail(e);
    soon();
  }));
  planned.on((p) => {
    if (document.activeElement !== fit) fit.value = p !== null && p.fit_in > 0 ? sizeText(p.fit_in) : "";
  });
  let before = "";
  desk.onJob((job) => {
    const now = `${job?.id ?? ""} ${job?.etag ?? ""}`;
    if (now !== before) soon();
    before = now;
  });
  for (const c of [drawing, chosenSource, choices, arrived]) (c.on as (f: () => void) => void)(soon);
  desk.events.on("sources", soon);
  desk.events.on<{ kind: string; ended: string | null }>("task", (t) => {
    if (t.ended !== null && t.kind !== "serve") soon(); // the store holds more, or less
  });
  setText(sum, "");
}

/** A choice; the one that writes the same stays the same, while its numbers change. */
interface Card {
  draw(c: Choice): HTMLElement;
}

function makeCard(choose: (set: Choice["set"]) => void): Card {
  let set: Choice["set"] = [];
  const input = makeInput("radio", false, () => choose(set));
  input.name = "choice";
  const [what, size, words] = [make("b", ""), make("em", ""), make("small", "")];
  const label = make("label", "", input, what, size, words);
  return {
    draw(c) {
      const places = { everywhere: say("takes.sharp_everywhere"), "near lines": say("takes.sharp_near"), nowhere: say("takes.sharp_nowhere") }[c.places];
      set = c.set;
      input.value = c.write;
      input.checked = c.gives_up === "";
      setText(what, c.what);
      setText(size, sizeText(c.bytes_estimate));
      setText(words, [places, ...(c.fits ? [] : [say("takes.still_large")]), c.write].filter((t) => t !== "").join(" · "));
      return label;
    },
  };
}

/** What is to be fetched and how long that takes. */
function sumText(p: Drafted): string {
  const rests = p.guessed ? [say("takes.guessed")] : [];
  return [...(p.fetch === 0 ? [say("takes.all_held")] : [say("takes.sum", { fetch: p.fetch.toLocaleString("en"), time: p.time })]), ...rests].join(" ");
}

/** The rows of the table: the deepest zooms one by one, those above them as one. */
function rowsOf(zooms: ZoomPlan[]): (Pick<ZoomPlan, "ground_resolution_m" | "tiles" | "fetch" | "bytes_estimate"> & { name: string })[] {
  const far = zooms.slice(0, Math.max(zooms.length - alone, 0));
  const rows = zooms.slice(far.length).map((z) => ({ ...z, name: String(z.zoom) }));
  const [first, last] = [far[0], far[far.length - 1]];
  if (first === undefined || last === undefined) return rows;
  const sum = (of: "tiles" | "fetch" | "bytes_estimate") => far.reduce((n, z) => n + z[of], 0);
  const name = first === last ? String(first.zoom) : `${first.zoom}–${last.zoom}`;
  return [{ name, ground_resolution_m: last.ground_resolution_m, tiles: sum("tiles"), fetch: sum("fetch"), bytes_estimate: sum("bytes_estimate") }, ...rows];
}

/** A line of the command line as a sentence: "sharpness: a 6 in …" is "A 6 in …". */
function sentence(line: string): string {
  const text = line.replace(/^[a-z ]+: /, "");
  return text.slice(0, 1).toUpperCase() + text.slice(1);
}

/** A moment of the coming days, by this computer's clock: "Sat, Dec 12, 8:00 PM". */
function momentText(when: string): string {
  return new Date(when).toLocaleString("en-US", { weekday: "short", month: "short", day: "numeric", hour: "numeric", minute: "2-digit" });
}
