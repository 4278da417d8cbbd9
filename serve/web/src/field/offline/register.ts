// Keeping what was seen, for when the hotspot drops: a worker beside the page
// does it (see worker.ts). Browsers allow one on secure pages only; elsewhere
// nothing is kept, and nothing is said.

/** Starts the worker, and gives it what was loaded before it ran. */
export async function registerServiceWorker(): Promise<void> {
  if (!window.isSecureContext || !("serviceWorker" in navigator)) return;
  try {
    await navigator.serviceWorker.register("/sw.js");
    const { active } = await navigator.serviceWorker.ready;
    const loaded = performance.getEntriesByType("resource").map((e) => e.name);
    const own = [location.origin + location.pathname, ...loaded].filter((u) => u.startsWith(`${location.origin}/`));
    active?.postMessage({ keep: [...new Set(own)] });
  } catch {
    // a certificate the browser does not trust, or no room: the page works as without
  }
}
