// A browser that cannot read the page's script is told so in words, in place of an empty page.
import { check, openPage, want } from "./harness.mjs";

const phone = { width: 390, height: 844, density: 2, touch: true };

/** Runs the checks on a server with any pack. */
export async function oldBrowserChecks(site) {
  for (const [name, script, told] of [
    ["a script in a language that it does not know", "let x = ;", true],
    ["a script that asks for what it does not have", "undefined.timeout(1)", true],
    ["a script that it does not get", null, false],
    ["a script that it can run", "", false],
  ]) {
    await check(`${name}: the page ${told ? "says" : "does not say"} that the browser is too old`, async () => {
      const { browser, page } = await openPage(phone);
      if (script !== "") await page.route("**/app.js", (route) => (script === null ? route.abort() : route.fulfill({ body: script, contentType: "text/javascript" })));
      await page.goto(site.href);
      await page.waitForTimeout(300);
      const words = page.locator("#too-old");
      want(await words.isVisible() === told, told ? "nothing is said" : await words.innerText());
      // A script that did not come is told too, with a way to ask for it again.
      want(await page.locator("#not-whole").isVisible() === (script === null), "whether all of the page came");
      if (script === null) {
        await page.unroute("**/app.js");
        await page.click("#load-again");
        await page.locator('body[data-state="ready"]').waitFor({ timeout: 20_000 });
        want(!await page.locator("#not-whole").isVisible(), "still told");
      }
      want(!told || /iOS \d+, Chrome \d+, Firefox \d+/.test(await words.innerText()), await words.innerText());
      await browser.close();
    });
  }
  for (const [how, answer] of [["does not come", (route) => route.abort()], ["is not found", (route) => route.fulfill({ status: 404, body: "" })]]) {
    await check(`a style sheet that ${how}: the page says so above all else, with a way to ask for it again`, async () => {
      const { browser, page } = await openPage(phone);
      await page.route("**/app.css", answer);
      await page.goto(site.href);
      await page.locator("#not-whole").waitFor({ timeout: 5_000 });
      const { y } = await page.locator("#not-whole").boundingBox();
      want(y < 40, `it stands ${y} pixels down`);
      want(!await page.locator("#too-old").isVisible(), "it blames the browser");
      await page.unroute("**/app.css");
      await page.click("#load-again");
      await page.locator('body[data-state="ready"]').waitFor({ timeout: 20_000 });
      want(!await page.locator("#not-whole").isVisible(), "still told");
      await browser.close();
    });
  }
}
