// Opens every sheet and tool there is, for checks that all of them have to pass.

/** The buttons of the frame that open a sheet. */
const openers = ["#show-layers", "#show-records", "#show-tools", "#status", "#caution", "#position-open"];

/** Calls `at` with a name for the map itself, each sheet and each tool in turn; what it finds open it closes. */
export async function everySheetOf(page, at) {
  await at("map");
  for (const opener of openers) {
    if (!(await page.locator(opener).isVisible()) || await page.locator(opener).isDisabled()) continue;
    await page.click(opener);
    await page.locator("#sheet.open").waitFor({ timeout: 5_000 });
    await at(opener.slice(1));
    await leave(page);
  }
  const tools = page.locator("#sheet-body .jobs button");
  await page.click("#show-tools");
  const titles = await tools.locator("b").allInnerTexts();
  for (const [i, title] of titles.entries()) {
    if (i > 0) await page.click("#show-tools");
    await tools.nth(i).click();
    await at(title.toLowerCase());
    await leave(page);
  }
}

/** Ends a tool and closes a sheet, whichever there is. */
async function leave(page) {
  for (const done of await page.locator("#tool button[id$=done]").all()) if (await done.isVisible()) await done.click();
  if (await page.locator("#sheet.open").count() > 0) await page.keyboard.press("Escape");
  await page.locator("#sheet:not(.open)").waitFor({ state: "attached", timeout: 5_000 });
}
