// What the page's two documents tell a phone before any script runs.
import assert from "node:assert/strict";
import { readFile } from "node:fs/promises";
import test from "node:test";

const read = (name) => readFile(new URL(`../${name}`, import.meta.url), "utf8");

for (const [name, styles] of [["index.html", "src/shared/shell/base.css"], ["join.html", "src/field/join/join.css"]]) {
  test(`${name}: numbers are no telephone numbers, the home screen has an icon, the frame a color`, async () => {
    const text = await read(name);
    // Safari makes links of what looks like a telephone number, such as coordinates (Apple, Safari HTML Reference, "format-detection").
    assert.match(text, /<meta name="format-detection" content="telephone=no[^"]*">/);
    assert.match(text, /<link rel="apple-touch-icon" href="\/apple-touch-icon\.png">/);
    assert.match(text, /<meta name="theme-color" content="#\w{6}"/);
    assert.match(text, /viewport-fit=cover/);
  });
  test(`${name}: what tells of an old browser runs before the page's own script`, async () => {
    const text = await read(name);
    const scripts = [...text.matchAll(/<script src="([^"]+)"/g)].map(([, src]) => src);
    assert.match(scripts[0], /guard\.js$/);
    assert.ok(scripts.length > 1);
    assert.match(text, /<p id="too-old" role="alert" hidden>\{\{page\.too_old\}\}<\/p>/);
  });
  test(`${name}: text keeps its size on a phone held sideways`, async () => {
    assert.match(await read(styles), /-webkit-text-size-adjust: 100%; text-size-adjust: 100%/);
  });
}
