// Pruning: a proposal that is looked at, then exactly that one carried out.
import { make, makeButton, makeInput, setChildren } from "../../shared/lib/dom";
import { say } from "../../shared/lib/words";
import { Refused } from "../app/api";
import type { Desk } from "../app/desk";
import { sizeText } from "../app/text";
import { makeTaskRows } from "../work/progress";
import type { Tasks } from "../app/tasks";

interface Keeper {
  name: string;
  folder: string;
  tiles: number;
  keep_until: string;
  keep_reason: string;
}

interface Proposal {
  tiles: number;
  holes: number;
  before_bytes: number;
  freed_bytes_estimate: number;
  met: boolean;
  down_to_bytes: number;
  sources: { source: string; tiles: number; holes: number; stay: number; freed_bytes_estimate: number }[];
  open_jobs: Keeper[];
  jobs_kept_until: Keeper[];
  digest: string;
}

export function pruneForm(desk: Desk, tasks: Tasks, pruned: () => void): HTMLElement {
  const closed = makeInput("checkbox", true, () => forget());
  const field = (placeholder: string) => Object.assign(make("input", ""), { type: "text", size: 8, placeholder, autocomplete: "off", spellcheck: false });
  const [older, down] = [field("90d"), field("20GB")];
  const out = make("div", "proposal");
  out.setAttribute("role", "status");
  const forget = () => out.replaceChildren();
  for (const f of [older, down]) f.addEventListener("input", forget);
  const conditions = () => ({ closed: closed.checked, older_than: older.value.trim(), down_to: down.value.trim() });
  const propose = async () => {
    out.replaceChildren(make("p", "dim", say("keeping.is_looked_at")));
    try {
      const asked = conditions();
      const { proposal, as_of } = await desk.api.post<{ proposal: Proposal; as_of: string }>("/api/store/prune", asked);
      out.replaceChildren(...proposed(proposal));
      if (proposal.tiles + proposal.holes === 0) return;
      const go = makeButton([say("keeping.remove", { n: proposal.tiles + proposal.holes, size: sizeText(proposal.freed_bytes_estimate) })], () => void apply({ ...asked, digest: proposal.digest, as_of }));
      go.className = "main";
      go.id = "prune-apply";
      out.append(go);
    } catch (e) {
      tellWrong(e);
    }
  };
  const tellWrong = (e: unknown) => out.replaceChildren(make("p", "no", e instanceof Error ? e.message : String(e)));
  let task = "";
  const apply = async (asked: object) => {
    try {
      task = (await desk.api.post<{ task: string }>("/api/store/prune", asked)).task;
      look();
    } catch (e) {
      if (e instanceof Refused && e.status === 409) desk.tell(e.message);
      tellWrong(e);
    }
  };
  const [rows, under] = [makeTaskRows(desk), make("ul", "tasks")];
  const look = () => {
    const t = tasks.of("").find((one) => one.id === task);
    if (t === undefined || !out.isConnected) return;
    if (t.ended === null) {
      setChildren(under, rows([t]));
      return setChildren(out, [under]);
    }
    task = "";
    if (t.problem !== null) return tellWrong(new Error(t.problem.what));
    const gone = t.progress.result as { tiles: number; freed_bytes: number; after_bytes: number } | undefined;
    if (gone !== undefined) out.replaceChildren(make("p", "yes", say("keeping.removed", { n: gone.tiles, freed: sizeText(gone.freed_bytes), after: sizeText(gone.after_bytes) })));
    pruned();
  };
  tasks.onChange(look);
  const lookAt = makeButton([say("keeping.propose")], () => void propose());
  lookAt.id = "prune-propose";
  const choice = make("label", "kchoice", closed, say("keeping.of_closed"));
  return make("div", "form prune", make("p", "dim", say("keeping.prune_means")), choice, make("label", "kfield", say("keeping.older_than"), older), make("label", "kfield", say("keeping.down_to"), down), make("div", "row", lookAt), out);
}

function proposed(p: Proposal): Node[] {
  const out: Node[] = [];
  for (const s of p.sources) {
    out.push(make("p", "", s.tiles + s.holes === 0 ? say("keeping.nothing_of", { source: s.source, stay: s.stay }) : say("keeping.goes_of", { source: s.source, tiles: s.tiles, holes: s.holes, stay: s.stay, size: sizeText(s.freed_bytes_estimate) })));
  }
  const jobs = [...p.open_jobs.map((k) => say("keeping.stays_open", { n: k.tiles, name: k.name, folder: k.folder })),
    ...p.jobs_kept_until.map((k) => say("keeping.stays_kept", { n: k.tiles, name: k.name, folder: k.folder, day: k.keep_until, reason: k.keep_reason }))];
  out.push(...jobs.map((text) => make("p", "dim", text)));
  if (!p.met) out.push(make("p", "no", say("keeping.not_enough", { size: sizeText(p.down_to_bytes), left: sizeText(p.before_bytes - p.freed_bytes_estimate) })));
  if (p.tiles + p.holes === 0) out.push(make("p", "", say("keeping.nothing", { size: sizeText(p.before_bytes) })));
  return out;
}
