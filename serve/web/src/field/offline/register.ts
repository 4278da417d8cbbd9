// Registers the service worker. Browsers allow one on secure pages only; elsewhere nothing is cached.
import { make } from "../../shared/lib/dom";

/** Starts the worker, and sends it the URLs that were loaded before it ran. */
export async function registerServiceWorker(): Promise<void> {
  if (!window.isSecureContext || !("serviceWorker" in navigator)) return;
  offerInstalling();
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

/** Names the manifest. A page that is not secure could not be opened without the laptop, so it is not offered there. */
function offerInstalling(): void {
  if (document.querySelector('link[rel="manifest"]') !== null) return;
  const link = make("link", "");
  link.rel = "manifest";
  link.href = "/manifest.webmanifest";
  document.head.append(link);
}
