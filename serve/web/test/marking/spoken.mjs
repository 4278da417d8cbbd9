// What devices say fills a mark: a locator's depth, current and frequency until they are kept or something else is pressed; the
// mean of a receiver's positions with their spread; and what a recorded position never says.
import { epoch, makeReceiver } from "../receiver.mjs";
import { inEngines, want } from "./harness.mjs";

const [receiver, locator] = [await makeReceiver(), await makeReceiver()];
const rest = () => new Promise((done) => setTimeout(done, 900)); // right after a mark was kept a press keeps nothing
let stands = [-140.49674, 40.4986];
let steps = 0;
/** A receiver that stands, and sways by two centimeters from one second to the next. */
const beat = setInterval(() => receiver.send(epoch([stands[0], stands[1] + (steps++ % 2 === 0 ? 1 : -1) * 1e-7], { sigma: 0.014, corrections: "1" })), 250);

try {
  await inEngines("a locator and a receiver fill a mark", async ({ field, phone }) => {
    const one = await phone();
    await one.join();
    await one.until("a position", () => /RTK fixed, within/.test(document.body.textContent)); // where the mark goes is decided when the pad opens
    await one.pad();
    await one.choose("method", "Electromagnetic, connected");
    await one.until("the receiver's place", () => /^At the receiver, within /.test(document.getElementById("pad-at").textContent));
    // The locator speaks: its depth stands on the button, and what is pressed goes before it.
    await locator.connected();
    locator.send("LOC,3.42,33,12.5\r\n");
    await one.until("what the locator says", () => /as the instrument says/.test(document.getElementById("pad-keep").textContent));
    await one.shot("spoken");
    const told = await one.keep();
    want(/^Water 3′ 5″ to center · on/.test(told), told);
    want(!/as the instrument says/.test(await one.text("#pad-keep")), "what was kept stays");
    await rest();
    stands = [stands[0], stands[1] + 2e-5];
    await rest();
    locator.send("LOC,3.50,33,12.1\r\n");
    await one.until("the next", () => /as the instrument says/.test(document.getElementById("pad-keep").textContent));
    await one.press("#pad-all");
    await one.depth(["4", "0"]);
    want(!/as the instrument says/.test(await one.text("#pad-keep")), "what is pressed does not go before what is said");
    // Averaged over five seconds.
    await one.press("#pad-more");
    await one.browser.ev(() => {
      const select = [...document.querySelectorAll(".mark-form select")].find((s) => [...s.options].some((o) => o.value === "60"));
      select.value = "5";
      select.dispatchEvent(new Event("change"));
    });
    await one.press("#sheet-close");
    await one.press("#pad-keep");
    await one.until("hold still", () => /^Hold still: \d s more/.test(document.querySelector(".pad-told p").textContent));
    await one.shot("averaging");
    await one.until("kept", () => /^Water 3′ 4″/.test(document.querySelector(".pad-told p").textContent));
    await one.until("nothing is only here", () => !/only on this phone/.test(document.getElementById("status").innerText));
    const [a, b] = (await field.book()).map((e) => e.feature.properties);
    want(Math.abs(a.depth_m - 3.42 * 0.3048) < 1e-9 && a.depth_as_typed === "3.42 ft" && a.depth_reference === "center" && a.frequency_hz === 33000 && a.current_ma === 12.5 && a.quality_level === "B", JSON.stringify(a));
    want(a.instrument.line === "LOC,3.42,33,12.5" && Math.abs(Date.parse(a.instrument.received) - Date.now()) < 60_000, JSON.stringify(a.instrument));
    want(a.position.from === "receiver" && a.position.kind === "rtk-fixed" && a.position.error_m > 0 && a.position.error_m < 0.2 && a.position.corrections_s === 1 && a.position.averaged_s == null, JSON.stringify(a.position));
    want(b.instrument === undefined && Math.abs(b.depth_m - 1.016) < 1e-9 && b.current_ma == null, `of a pressed depth: ${JSON.stringify(b)}`);
    const { averaged_s, averaged_n, spread_m } = b.position;
    want(averaged_s === 5 && averaged_n >= 4 && averaged_n <= 40 && spread_m > 0.005 && spread_m < 0.05, JSON.stringify(b.position));
  }, { engines: ["chromium"], more: ["--position", `tcp:127.0.0.1:${receiver.port}`, "--instrument", `tcp:127.0.0.1:${locator.port}`] });
} finally {
  clearInterval(beat);
  receiver.close();
  locator.close();
}
