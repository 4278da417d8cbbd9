// Keeps the screen on while something goes on that a dark screen would end. Browsers allow it on
// secure pages only, and take it back whenever the page is hidden; elsewhere nothing happens.

type Reason = "measuring" | "following";

const reasons = new Set<Reason>();
let lock: WakeLockSentinel | null = null;
let asking = false;
let listening = false;

/** Says that something which needs the screen goes on, or that it ended. */
export function keepAwake(reason: Reason, on: boolean): void {
  if (on) reasons.add(reason);
  else reasons.delete(reason);
  if (!listening) document.addEventListener("visibilitychange", () => void settle());
  listening = true;
  void settle();
}

async function settle(): Promise<void> {
  if (asking) return;
  if (reasons.size === 0) {
    void lock?.release().catch(() => undefined);
    lock = null;
    return;
  }
  if (lock !== null || document.hidden || !("wakeLock" in navigator)) return;
  asking = true;
  const given = await navigator.wakeLock.request("screen").catch(() => null); // refused, as with a battery nearly empty
  asking = false;
  lock = given;
  given?.addEventListener("release", () => { if (lock === given) lock = null; });
  if (reasons.size === 0) void settle(); // it ended meanwhile
}
