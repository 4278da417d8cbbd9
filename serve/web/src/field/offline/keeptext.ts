// What is said about keeping a job, as text.
import type { About } from "../../shared/lib/api";
import { dateText } from "../../shared/lib/dates";
import { say } from "../../shared/lib/words";
import type { Ended } from "./keeper";
import { type KeepList, type KeptRecord, type Obstacle, sizeText } from "./keeppolicy";

/** Why keeping ended before all was kept. */
export function endedText(ended: Exclude<Ended, "">): string {
  switch (ended) {
    case "stopped": return say("keep.ended_stopped");
    case "full": return say("keep.ended_full");
    case "exchanged": return say("keep.ended_exchanged");
    case "damaged": return say("keep.ended_damaged");
    case "away": return say("keep.ended_away");
    case "refused": return say("keep.ended_refused");
  }
}

/** Why a job cannot be kept. */
export function obstacleText(obstacle: Obstacle, list: KeepList, keepUntil: string, room: number, now: Date): string {
  switch (obstacle) {
    case "not-stated": return say("keep.not_stated");
    case "forbidden": return say("keep.forbidden");
    case "too-many": return say("keep.too_many", { n: list.count });
    case "ended": return say("keep.ended", { when: dateText(keepUntil, now) });
    case "no-room": return say("keep.no_room", { size: sizeText(list.bytes), room: sizeText(room) });
  }
}

/** Size, age and pack of a copy, and how long the terms allow it. */
export function copyRows(r: KeptRecord, about: About, now: Date): [string, string][] {
  const until = about.keep_until ?? "";
  const rows: [string, string][] = [
    [say("keep.size_row"), sizeText(r.bytes)],
    [say("keep.kept_row"), dateText(r.finished || r.began, now)],
    [say("keep.pack_row"), `${dateText(r.entry.packed ?? "", now)}; ${r.seal === "" ? say("keep.no_seal") : say("keep.seal", { seal: r.seal })}`],
  ];
  if (until !== "") {
    const when = dateText(until, now);
    rows.push([say("keep.terms_row"), Date.parse(until) <= now.getTime() ? say("keep.terms_over", { when }) : say("keep.terms_until", { when })]);
  }
  return rows;
}

/** Another job that is kept. */
export const otherText = (k: KeptRecord, now: Date): string =>
  say("keep.other", { name: k.entry.name || k.entry.id, size: sizeText(k.bytes), when: dateText(k.finished || k.began, now) });
