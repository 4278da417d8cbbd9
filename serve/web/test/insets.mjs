// A phone with a notch and round corners: nothing that is pressed or read stands under them.
import { join } from "node:path";
import { everySheetOf } from "./everysheet.mjs";
import { check, openPage, settled, want } from "./harness.mjs";

// What iPhones with a notch state, in CSS pixels (Apple, Human Interface Guidelines, "Layout").
const screens = [
  { name: "a notch at the left or right", width: 844, height: 390, density: 2, touch: true, insets: { top: 0, left: 59, right: 59, bottom: 21 } },
  { name: "a notch on top", width: 390, height: 844, density: 2, touch: true, insets: { top: 59, left: 0, right: 0, bottom: 34 } },
];

/** The words and fields in sight that stand under an inset, each as what it is of and where. */
function under(insets) {
  const safe = { left: insets.left, top: insets.top, right: innerWidth - insets.right, bottom: innerHeight - insets.bottom };
  const found = new Set();
  const texts = document.createTreeWalker(document.body, NodeFilter.SHOW_TEXT);
  const boxes = [...document.querySelectorAll("input, select, svg, button:empty")].map((e) => [e, [e.getBoundingClientRect()]]);
  for (let t = texts.nextNode(); t; t = texts.nextNode()) {
    const range = document.createRange();
    range.selectNodeContents(t);
    if (t.data.trim() !== "") boxes.push([t.parentElement, [...range.getClientRects()]]);
  }
  for (const [e, rects] of boxes) {
    if (e.closest(".unseen, .ol-viewport, noscript, [hidden]")) continue;
    const scrolls = e.closest("#sheet-body, .crossbar") !== null; // what is cut off by scrolling comes up by scrolling
    const cut = e.closest("#credit > span")?.getBoundingClientRect(); // what does not fit ends in dots
    for (const whole of rects) {
      const r = cut ? new DOMRect(whole.left, whole.top, Math.min(whole.right, cut.right) - whole.left, whole.height) : whole;
      const seen = document.elementFromPoint(r.left + r.width / 2, r.top + r.height / 2);
      if (r.width < 2 || r.height < 2 || seen === null || !(e.contains(seen) || seen.contains(e))) continue;
      const off = { left: r.left < safe.left - 1, right: r.right > safe.right + 1, top: !scrolls && r.top < safe.top - 1, bottom: !scrolls && r.bottom > safe.bottom + 1 };
      const sides = Object.keys(off).filter((k) => off[k]);
      if (sides.length > 0) found.add(`${e.closest("[id]")?.id ?? e.tagName} “${(e.textContent ?? "").trim().slice(0, 30)}” at the ${sides.join(" and ")}`);
    }
  }
  return [...found];
}

/** Runs the checks on a server with any pack. */
export async function insetChecks(site, shots) {
  for (const screen of screens) {
    const { browser, page } = await openPage(screen);
    const devtools = await browser.context.newCDPSession(page);
    await devtools.send("Emulation.setSafeAreaInsetsOverride", { insets: screen.insets });
    await page.goto(site.href);
    await page.locator('body[data-state="ready"]').waitFor({ timeout: 20_000 });
    await settled(page);
    await check(`${screen.name}: the page is told of it`, async () => {
      const left = await page.evaluate(() => {
        const e = document.body.appendChild(document.createElement("div"));
        e.style.padding = "env(safe-area-inset-top) 0 0 env(safe-area-inset-left)";
        const { paddingLeft, paddingTop } = getComputedStyle(e);
        e.remove();
        return [parseInt(paddingLeft, 10), parseInt(paddingTop, 10)];
      });
      want(left.join() === [screen.insets.left, screen.insets.top].join(), `it is told of ${left}`);
    });
    await everySheetOf(page, (name) => check(`${screen.name}, ${name}: nothing stands under it`, async () => {
      await page.screenshot({ path: join(shots, `insets-${screen.width}-${name.replaceAll(/\W+/g, "-")}.png`) });
      const found = await page.evaluate(under, screen.insets);
      want(found.length === 0, found.join(" | "));
    }));
    await browser.close();
  }
}
