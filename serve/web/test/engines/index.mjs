// The three engines that phones have, behind the same few calls. WebKitGTK is of the same family as the
// iPhone's, not iOS: no notch, no keyboard on the screen, no fingers.
import * as chromium from "./chromium.mjs";
import * as firefox from "./firefox.mjs";
import * as webkit from "./webkit.mjs";

const engines = { chromium, firefox, webkit };
export const names = Object.keys(engines);

/** What is missing on this machine for an engine, as a sentence; "" for nothing. */
export const missing = (name) => engines[name].missing();

/**
 * Opens a browser with nothing kept from before, in a window of `width` × `height` CSS pixels of
 * `density` device pixels each. All it asks for goes to `proxy`; certificates are not looked at;
 * `scheme` is "light" or "dark"; `before` is a script that runs before those of every page.
 * The browser has:
 *   goto(url); ev(f, ...args), what f gives in the page (args and result as JSON);
 *   tap([x, y]); drag(from, to); keys("Enter", "a", …); shot(), a PNG; size(w, h);
 *   complaints, the errors in its console; close().
 */
export async function open(name, options) {
  const browser = await engines[name].open({ width: 390, height: 844, density: 2, scheme: "light", ...options });
  return { name, ...browser };
}
