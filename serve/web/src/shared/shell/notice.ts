// One short notice over the foot of the map. The first that is true is shown, for some seconds
// in full and then in a few words: what is always so is no news.
import { byId, make, makeButton, setAttribute, setText } from "../lib/dom";
import "./floats.css";

/** What there may be notices of; the first come first. */
const order = ["pack", "no-picture", "loading", "hidden"] as const;
type NoticeId = (typeof order)[number];

export interface Notice {
  text: string;
  /** the same in fewer words, for a screen on which the text has no room */
  shorter?: string[];
  /** what stays when it has been read */
  short: string;
  /** what a press does about it; without it the notice only tells */
  press?: () => void;
  /** whether it stays in full until somebody has acted */
  stays?: boolean;
}

export interface Notices {
  /** Sets a notice; null when it is not true any more. */
  set(id: NoticeId, notice: Notice | null): void;
}

/** How long a notice is shown in full, in milliseconds. */
export const foldAfterMs = 6_000;

/** The notice to show of those that are true, with the time each became so; and when it is to fold. */
export function chooseNotice(all: { id: NoticeId; since: number; stays: boolean }[], now: number): { id: NoticeId; folded: boolean; foldsIn: number } | null {
  const [first] = [...all].sort((a, b) => order.indexOf(a.id) - order.indexOf(b.id));
  if (first === undefined) return null;
  const left = first.stays ? Infinity : Math.max(0, first.since + foldAfterMs - now);
  return { id: first.id, folded: left === 0, foldsIn: left };
}

export function makeNotices(): Notices {
  const slot = byId("notices");
  const aloud = make("p", "unseen");
  aloud.setAttribute("role", "status");
  slot.append(aloud);
  const all = new Map<NoticeId, Notice & { since: number }>();
  let shown: HTMLElement | null = null;
  let timer: ReturnType<typeof setTimeout> | undefined;
  const draw = () => {
    const chosen = chooseNotice([...all].map(([id, n]) => ({ id, since: n.since, stays: n.stays === true })), Date.now());
    const notice = chosen === null ? undefined : all.get(chosen.id);
    setAttribute(document.body, "data-notice", chosen?.id ?? "");
    setAttribute(slot, "data-all", order.filter((id) => all.has(id)).join(" "));
    clearTimeout(timer);
    if (chosen === null || notice === undefined) {
      shown?.remove();
      shown = null;
      setText(aloud, "");
      return;
    }
    const text = chosen.folded ? notice.short : notice.text;
    const key = `${chosen.id} ${chosen.folded} ${text}`;
    if (shown?.dataset.key !== key) {
      const next = notice.press ? makeButton([text], () => all.get(chosen.id)?.press?.()) : make("span", "", text);
      Object.assign(next.dataset, { key, notice: chosen.id });
      next.title = notice.text;
      next.classList.toggle("folded", chosen.folded);
      const focused = shown !== null && document.activeElement === shown;
      if (shown) shown.replaceWith(next);
      else slot.prepend(next);
      shown = next;
      for (const words of notice.shorter ?? []) if (next.scrollWidth > next.clientWidth || next.offsetHeight > slot.offsetHeight) setText(next, words);
      if (focused) next.focus({ preventScroll: true });
    }
    if (!chosen.folded) setText(aloud, notice.text);
    if (Number.isFinite(chosen.foldsIn) && !chosen.folded) timer = setTimeout(draw, chosen.foldsIn + 50);
  };
  addEventListener("resize", () => {
    if (shown) delete shown.dataset.key; // other words may have room
    draw();
  });
  return {
    set(id, notice) {
      const before = all.get(id);
      if (notice === null ? before === undefined : before?.text === notice.text && before.short === notice.short) return;
      if (notice === null) all.delete(id);
      else all.set(id, { ...notice, since: before?.since ?? Date.now() });
      draw();
    },
  };
}
