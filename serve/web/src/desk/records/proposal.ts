// The dialog of a file that was dropped: how it is read, what must be answered, what cannot be read.
import { make, makeButton, setChildren, setHidden } from "../../shared/lib/dom";
import { say } from "../../shared/lib/words";
import type { Desk } from "../app/desk";
import { makeKept } from "../app/kept";
import { keepView } from "../app/map";
import { columnsTable, sureText } from "./columns";
import { type Drawn, extentOfLayers } from "./drawn";
import type { Answers, Finding, Item, Proposal } from "./types";

/** Shows the proposal for a dropped file until it was added or closed. */
export async function openProposal(desk: Desk, job: string, drop: string, drawn: Drawn): Promise<void> {
  const answers: Answers = {};
  const propose = () => desk.api.post<Proposal>(`/api/jobs/${job}/records/propose`, { drop, answers });
  let p = await propose();
  const dialog = desk.dialog(say("record.dialog", { file: p.file }));
  dialog.body.closest("dialog")?.classList.add("proposal");
  const showBefore = keepView(desk.map);
  const body = make("div", "");
  dialog.body.append(body);
  const open = make("span", "open no");
  const add = makeButton([say("record.add_it")], () => void confirm());
  add.className = "main";
  dialog.foot.append(open, makeButton([say("record.cancel")], dialog.close), add);
  const kept = makeKept<HTMLElement>();
  let turn = 0;
  let seen = false;
  const stands = new Map<string, string>(); // an item that was answered stays where it stood

  async function answer(given: Answers): Promise<void> {
    Object.assign(answers, given);
    const asked = ++turn;
    const now = await propose();
    if (asked !== turn) return; // answered again meanwhile
    p = now;
    draw();
  }
  async function confirm(): Promise<void> {
    add.disabled = true;
    try {
      const etag = desk.job?.id === job ? desk.job.etag : "";
      const { file } = await desk.api.post<{ file: string }>(`/api/jobs/${job}/records`, { etag, drop, answers });
      desk.tell(say("record.added", { file }));
      dialog.close();
    } catch (e) {
      desk.fail(e);
      await desk.reload();
      draw();
    }
  }
  const answered = (given: Answers) => void answer(given).catch(desk.fail);

  function draw(): void {
    const focus = (document.activeElement as HTMLElement | null)?.dataset?.key;
    const asked = p.items.filter((i) => !i.fixed);
    const must = asked.filter((i) => i.must && i.sure === "unknown");
    for (const i of asked) {
      if (must.includes(i)) stands.set(i.key, "must");
      else if (!stands.has(i.key)) stands.set(i.key, i.sure === "fits" ? "fits" : "rest");
    }
    const standing = (where: string) => asked.filter((i) => stands.get(i.key) === where);
    const told = p.items.filter((i) => i.fixed).map((i) => say("record.told", { name: i.name, value: i.value, why: i.why }));
    setChildren(body, [
      make("p", "lead", p.format === "" ? "" : say("record.read_as", { format: p.format, n: p.rows, where: p.distance.text })),
      ...(p.problem === "" ? [] : [make("p", "no", p.problem)]),
      ...group(say("record.must"), standing("must")), ...group(say("record.fits"), standing("fits")), ...unreadList(p, (make) => kept.of(JSON.stringify(p.unread), make)),
      ...(p.columns.length === 0 ? [] : [make("h3", "", say("record.columns")), kept.of(JSON.stringify([p.columns, p.first, p.meanings]), () => columnsTable(p, answered))]),
      ...group(say("record.rest"), standing("rest")), ...sentences(say("record.to_know"), [...p.findings.filter((f) => f.kind !== "columns").map(sentence), ...(p.one_in > 1 ? [say("record.one_in", { n: p.one_in })] : []), ...p.notes, ...told]),
    ]);
    kept.done();
    if (focus !== undefined) body.querySelector<HTMLElement>(`[data-key="${CSS.escape(focus)}"]`)?.focus();
    open.textContent = must.length > 0 ? say("record.open", { n: must.length }) : "";
    setHidden(open, must.length === 0);
    add.disabled = !p.ready;
    const layer = drawn.preview(p.distance.of > 0 ? p : null);
    if (layer !== null && !seen) seen = show(layer);
  }
  function group(title: string, items: Item[]): HTMLElement[] {
    return items.length === 0 ? [] : [make("h3", "", title), ...items.map((i) => {
      const row = kept.of(JSON.stringify(i), () => itemRow(i, answered));
      const field = row.querySelector<HTMLInputElement | HTMLSelectElement>("[data-key]");
      if (field !== null && field !== document.activeElement && field.value !== i.value) field.value = i.value; // what was chosen and not taken
      return row;
    })];
  }
  /** Moves what is proposed into the part of the map beside the dialog. */
  function show(layer: Parameters<typeof extentOfLayers>[0][number]): boolean {
    const extent = extentOfLayers([layer]);
    if (extent !== null) desk.fit(extent);
    return extent !== null;
  }
  draw();
  body.querySelector<HTMLElement>("select, input")?.focus();
  await dialog.closed;
  drawn.preview(null);
  showBefore();
  turn++;
}

function itemRow(i: Item, answered: (given: Answers) => void): HTMLElement {
  const mark = make("span", `sure ${i.sure}`, i.must || i.sure !== "unknown" ? sureText(i.sure) : say("record.sure_optional"));
  const field = i.choices === null ? textField(i, answered) : choiceField(i, answered);
  field.dataset.key = i.key;
  const label = make("label", "item", make("b", "", i.name), field, mark, make("small", "", i.why));
  label.classList.toggle("must", i.must && i.sure === "unknown");
  label.dataset.item = i.key;
  return label;
}

function textField(i: Item, answered: (given: Answers) => void): HTMLElement {
  const input = make("input", "");
  input.type = "text";
  input.value = i.value;
  input.addEventListener("change", () => answered({ [i.key]: input.value }));
  return input;
}

function choiceField(i: Item, answered: (given: Answers) => void): HTMLElement {
  const select = make("select", "");
  const choices = i.choices ?? [];
  if (!choices.some((c) => c.value === i.value)) select.append(new Option(say("record.choose"), "", true, true));
  for (const c of choices) select.append(new Option(c.text, c.value, false, c.value === i.value));
  select.addEventListener("change", () => answered({ [i.key]: select.value }));
  return select;
}

/** All rows that cannot be read, each with its line and reason. */
function unreadList(p: Proposal, keep: (make: () => HTMLElement) => HTMLElement): HTMLElement[] {
  if (p.unread.length === 0) return [];
  const list = keep(() => {
    const rows = p.unread.map((f) => make("li", "", make("b", "", f.line === undefined ? f.where : say("record.line", { line: f.line })), ` ${f.detail}`));
    return Object.assign(make("ol", "unread", ...rows), { tabIndex: 0 });
  });
  return [make("h3", "no", say("record.unread", { n: p.unread.length })), list];
}

const sentence = (f: Finding): string => (f.line === undefined ? f.detail : say("record.at_line", { line: f.line, what: f.detail }));

function sentences(title: string, all: string[]): HTMLElement[] {
  return all.length === 0 ? [] : [make("h3", "", title), make("ul", "know", ...all.map((t) => make("li", "", t)))];
}
