// Registers the service worker. Browsers allow one on secure pages only; elsewhere nothing is cached.

/** Starts the worker, and sends it the URLs that were loaded before it ran. */
export async function registerServiceWorker(): Promise<void> {
  if (!window.isSecureContext || !("serviceWorker" in navigator)) return;
  try {
    await navigator.serviceWorker.register("/sw.js");
    const { active } = await navigator.serviceWorker.ready;
    const loaded = performance.getEntriesByType("resource").map((e) => e.name);
    const own = [location.origin + location.pathname, ...loaded].filter((u) => u.startsWith(`${location.origin}/`));
    active?.postMessage({ keep: [...new Set(own)] });
  } catch {
    // an untrusted certificate, or no space: the page works without
  }
}
