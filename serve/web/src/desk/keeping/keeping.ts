// Keeping: whether the office store keeps the chosen job's tiles, until when and why; and the store itself.
import { make, makeButton, setChildren } from "../../shared/lib/dom";
import { localDay } from "../../shared/lib/dates";
import { say } from "../../shared/lib/words";
import type { Desk } from "../app/desk";
import type { Tasks } from "../app/tasks";
import { openStore } from "./store";
import "./keeping.css";

/** A job in the register of the store: GET /api/jobs/ID/register. */
interface Registration {
  known: boolean;
  open: boolean;
  closed: string | null;
  keep_until: string;
  keep_reason: string;
  keep: boolean;
}

export function mountKeeping(desk: Desk, tasks: Tasks): void {
  const panel = desk.panel("keeping", say("keeping.title"));
  const [words, row] = [make("div", "kept"), make("div", "row")];
  const store = makeButton([say("keeping.store")], () => void openStore(desk, tasks).catch(desk.fail));
  store.id = "store";
  panel.body.append(words, row);
  const change = (verb: string, body: object) => async () => {
    if (desk.job !== null) draw(await desk.api.post<Registration>(`/api/jobs/${desk.job.id}/${verb}`, body));
  };
  const button = (id: string, text: string, press: () => Promise<void>) => {
    const b = makeButton([text], () => void press().catch(desk.fail));
    b.id = id;
    return b;
  };
  let drawn = "";
  const draw = (r: Registration | null) => {
    const now = JSON.stringify([desk.job?.id, r]);
    if (now === drawn) return;
    drawn = now;
    const lines: Node[] = [];
    const buttons: Node[] = [];
    if (r !== null && !r.known) lines.push(make("p", "dim", say("keeping.not_known")));
    if (r?.known) {
      lines.push(make("p", "", r.open ? say("keeping.is_open") : say("keeping.is_closed", { day: localDay(new Date(r.closed ?? "")) })));
      if (r.keep_until !== "") lines.push(make("p", r.keep ? "yes" : "dim", r.keep ? say("keeping.kept", { day: r.keep_until, reason: r.keep_reason }) : say("keeping.was_kept", { day: r.keep_until, reason: r.keep_reason })));
      buttons.push(r.open ? button("close-job", say("keeping.close"), change("close", {})) : button("reopen-job", say("keeping.reopen"), change("reopen", {})));
      buttons.push(button("keep-until", say("keeping.keep_until"), async () => openKeep(desk, r, draw)));
    }
    words.replaceChildren(...lines);
    setChildren(row, [...buttons, store]);
  };
  let asked = 0;
  const read = async () => {
    const turn = ++asked;
    const job = desk.job;
    const r = job === null ? null : await desk.api.get<Registration>(`/api/jobs/${job.id}/register`);
    if (turn === asked) draw(r);
  };
  const again = () => void read().catch(desk.fail);
  desk.onJob(again);
  desk.events.on("store", again);
  draw(null);
}

/** Asks until when and why nothing of the job may be pruned. */
function openKeep(desk: Desk, now: Registration, done: (r: Registration) => void): void {
  const dialog = desk.dialog(say("keeping.keep_until"));
  const tomorrow = new Date(Date.now() + 86_400_000);
  const until = Object.assign(make("input", ""), { type: "date", min: localDay(tomorrow), value: now.keep_until, required: true });
  const reason = Object.assign(make("input", ""), { type: "text", maxLength: 200, value: now.keep_reason, required: true });
  const wrong = make("p", "no");
  wrong.setAttribute("role", "alert");
  const send = async (body: object) => {
    if (desk.job === null) return;
    try {
      done(await desk.api.post<Registration>(`/api/jobs/${desk.job.id}/keep`, body));
      dialog.close();
    } catch (e) {
      wrong.textContent = e instanceof Error ? e.message : String(e);
    }
  };
  dialog.body.append(make("p", "dim", say("keeping.keep_means")), make("label", "kfield", say("keeping.last_day"), until), make("label", "kfield", say("keeping.reason"), reason), wrong);
  if (now.keep_until !== "") dialog.foot.append(makeButton([say("keeping.no_longer")], () => void send({ until: "", reason: "" })));
  const save = makeButton([say("keeping.keep_it")], () => void send({ until: until.value, reason: reason.value }));
  save.className = "main";
  dialog.foot.append(save);
  until.focus();
}
