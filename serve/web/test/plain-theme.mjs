// The looks: every text can be read, and lines stand out from their casing in each.
import assert from "node:assert/strict";
import { readFile } from "node:fs/promises";
import test from "node:test";
import { load, table } from "./load.mjs";

const { theme, defaultTheme, themes, setTheme } = await load("shared/lib/theme.ts");
const css = await readFile(new URL("../src/shared/shell/theme.css", import.meta.url), "utf8") + await readFile(new URL("../src/shared/shell/base.css", import.meta.url), "utf8");

/** The contrast of two colours by WCAG 2.2, "contrast ratio" and "relative luminance". */
function contrast(a, b) {
  const [x, y] = [a, b].map((hex) => [1, 3, 5].map((i) => parseInt(hex.slice(i, i + 2), 16) / 255)
    .map((v) => (v <= 0.04045 ? v / 12.92 : ((v + 0.055) / 1.055) ** 2.4))
    .reduce((sum, v, i) => sum + v * [0.2126, 0.7152, 0.0722][i], 0)).sort((p, q) => q - p);
  return (x + 0.05) / (y + 0.05);
}
test("contrast: black on white is 21, the least grey that passes on white is #767676", () => {
  assert.equal(contrast("#000000", "#ffffff").toFixed(2), "21.00");
  assert.equal(contrast("#ffffff", "#767676").toFixed(2), "4.54");
});

/** The colours of a look: what the root states, and what the look states over it. */
function colours(name) {
  const all = {};
  for (const [, which, body] of css.matchAll(/:root(?:\[data-theme="(\w+)"\])?\s*\{([^}]*)\}/g)) {
    if (which !== undefined && which !== name) continue;
    for (const [, key, value] of body.matchAll(/--([\w-]+): (#[0-9a-f]{6});/g)) if (which !== undefined || all[key] === undefined) all[key] = value;
  }
  return all;
}

// WCAG 2.2, 1.4.3: 4.5 for text; 1.4.6: 7 where contrast is what a look is for.
const texts = [
  ["ink", "paper"], ["dim", "paper"], ["fault", "paper"], ["ink", "card"], ["onbar", "bar"], ["onbad", "bad"],
];
for (const { name, ink, paper } of themes) {
  const least = name === "sun" ? 7 : 4.5;
  test(`look ${name}: texts are at least ${least} to their ground`, () => {
    const all = { ...colours(name) };
    for (const [front, back] of texts) {
      assert.ok(all[front] && all[back], `${front} or ${back} is not stated`);
      assert.ok(contrast(all[front], all[back]) >= least, `${front} on ${back}: ${contrast(all[front], all[back])}`);
    }
    assert.ok(contrast("#ffffff", all.bad) >= least, `white on bad: ${contrast("#ffffff", all.bad)}`);
    assert.ok(contrast(ink, paper) >= least, "labels on the map");
  });
}

// A picture dimmed for the night: asphalt and grass at less than half their brightness.
const dark = "#2b2d2a";
test("look night: frames of labels stand out from a dark picture and from the label, edges of casings from both", () => {
  const { ink, paper, edge } = themes.find((t) => t.name === "night");
  for (const [front, back] of [[ink, dark], [ink, paper], [edge, dark], [edge, "#000000"]]) {
    assert.ok(contrast(front, back) >= 3, `${front} on ${back}: ${contrast(front, back)}`);
  }
});
test("look sun: text and lines are larger, and the picture pales", () => {
  const sun = themes.find((t) => t.name === "sun");
  assert.ok(sun.size >= 1.2 && sun.weight >= 1.2 && sun.faint);
});

table("which look to begin with", [
  ["nothing asked for: day", defaultTheme(() => false), "day"],
  ["a dark page asked for", defaultTheme((q) => q.includes("dark")), "night"],
  ["contrast asked for counts more", defaultTheme(() => true), "sun"],
  ["a kept name that is none", setTheme("dusk").name, "day"],
  ["put on", (setTheme("sun"), theme().weight > 1), true],
]);
