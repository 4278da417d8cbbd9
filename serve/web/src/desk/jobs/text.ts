// Sizes and times as the command line writes them.
import { say } from "../../shared/lib/words";

/** Bytes to three digits: "21.2 kB", "3.76 MB". */
export function sizeText(bytes: number): string {
  const units = ["B", "kB", "MB", "GB", "TB"];
  let [v, unit] = [bytes, 0];
  for (; v >= 999.5 && unit < units.length - 1; unit++) v /= 1000;
  return `${unit === 0 ? v : Number(v.toPrecision(3))} ${units[unit]}`;
}

/** Seconds as people say them: "8 s", "2 min", "1 h 5 min". */
export function durationText(seconds: number): string {
  const s = Math.max(1, Math.round(seconds));
  if (s < 60) return say("desk.seconds", { n: s });
  if (s < 3600) return say("desk.minutes", { n: Math.round(s / 60) });
  const [h, min] = [Math.floor(s / 3600), Math.round((s % 3600) / 60)];
  return min === 0 ? say("desk.hours", { h }) : say("desk.hours_minutes", { h, min });
}
