// Serving on site: the address, the code and the QR code by which phones get in.
import { make, makeButton, setText, svg } from "../../shared/lib/dom";
import { say } from "../../shared/lib/words";
import { problemText } from "../app/api";
import type { Desk, Job } from "../app/desk";
import { type Task, type Tasks } from "../app/tasks";
import { folderName } from "../app/text";

/** How phones get in: the result of a task of the kind "serve". */
interface Served {
  addresses: { url: string; note: string }[];
  named: string;
  code: string;
  link: string;
  qr_path: string;
  qr_side: number;
  notes: string[];
  phones: number;
  guessing: string;
  troubles: string[];
}

/** The task that serves a job now. */
export const servingTask = (tasks: Tasks, job: string): Task | undefined =>
  tasks.of(job).find((t) => t.kind === "serve" && t.ended === null);

/** Begins to serve a job, unless it is served already, and shows how phones get in. */
export async function openServe(desk: Desk, tasks: Tasks, job: string): Promise<void> {
  if (!(await insteadOf(desk, tasks, job))) return;
  const { task } = await desk.api.post<{ task: string }>(`/api/jobs/${job}/serve`, { on: true });
  const dialog = desk.dialog(say("work.serve"));
  dialog.body.classList.add("serving");
  const [access, phones] = [make("div", "access", make("p", "dim", say("work.serve_begins"))), make("p", "phones")];
  phones.setAttribute("role", "status");
  const stop = makeButton([say("work.serve_stop")], () => {
    void desk.api.post(`/api/jobs/${job}/serve`, { on: false }).then(dialog.close).catch(desk.fail);
  });
  dialog.foot.append(make("span", "dim", say("work.serve_goes_on")), stop);
  dialog.body.append(access, phones, make("p", "dim", say("caution.always")));
  let drawn = "";
  let open = true;
  void dialog.closed.then(() => { open = false; });
  const look = () => {
    const t = tasks.of(job).find((one) => one.id === task);
    if (!open || t === undefined) return;
    if (t.problem !== null) access.replaceChildren(make("p", "no", problemText(t.problem)));
    stop.disabled = t.ended !== null;
    const now = t.progress.result as Served | undefined;
    if (now === undefined || t.ended !== null) return;
    setText(phones, [say("work.phones", { n: now.phones }), now.guessing, ...now.troubles].filter((w) => w !== "").join(" "));
    const key = `${now.link} ${now.addresses.map((a) => a.url).join(" ")}`;
    if (key === drawn) return;
    drawn = key;
    access.replaceChildren(...accessOf(now));
  };
  tasks.onChange(look);
  look();
  stop.focus();
}

/** One job is served at a time: asks before this one takes the place of another, and stops that; false when it stays. */
async function insteadOf(desk: Desk, tasks: Tasks, job: string): Promise<boolean> {
  const served = () => tasks.all().find((t) => t.kind === "serve" && t.ended === null && t.job !== job);
  const other = served();
  if (other === undefined) return true;
  const { name, folder } = await desk.api.get<Job>(`/api/jobs/${other.job}`);
  const yes = say("work.serve_instead");
  if (await desk.ask(say("work.serve_other", { name: name || folderName(folder) }), [say("work.serve_keep"), yes]) !== yes) return false;
  await desk.api.post(`/api/jobs/${other.job}/serve`, { on: false });
  for (let i = 0; i < 100 && served() !== undefined; i++) await new Promise((done) => setTimeout(done, 100));
  return true;
}

function accessOf(s: Served): Node[] {
  const out: Node[] = [];
  if (s.qr_path !== "") out.push(qrOf(s));
  const list = make("ul", "addresses", ...s.addresses.map((a) => make("li", "", make("b", "", a.url), a.note)));
  if (s.named !== "") list.append(make("li", "", say("work.named", { address: s.named })));
  out.push(list);
  if (s.code !== "") out.push(make("p", "code", say("work.code"), " ", make("b", "", s.code)));
  else out.push(make("p", "", say("work.this_computer_only")));
  out.push(...s.notes.map((n) => make("p", "dim", n)));
  return out;
}

/** The code, dark on light in every theme: else no phone reads it. */
function qrOf(s: Served): Node {
  const side = s.qr_side;
  const drawing = svg("svg", { viewBox: `0 0 ${side} ${side}`, role: "img", "shape-rendering": "crispEdges" },
    svg("rect", { width: side, height: side, fill: "#ffffff" }), svg("path", { d: s.qr_path, fill: "#000000" }));
  drawing.setAttribute("aria-label", say("work.qr", { link: s.link }));
  drawing.classList.add("qr");
  return drawing;
}
