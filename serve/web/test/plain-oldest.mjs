// The bundles ask nothing of a browser that the oldest ones which the page takes (oldest in
// bundle.mjs) do not have. A compiler sees to the language; names of a browser's own it lets by.
// The versions are those of MDN's browser-compat-data, 2026-11.
import assert from "node:assert/strict";
import { readFile } from "node:fs/promises";
import test from "node:test";
import { build } from "esbuild";
import { beside, guard, oldest, page } from "../bundle.mjs";
import { load, table } from "./load.mjs";

const never = Infinity;

/** What came later to one of them: its name, how a bundle writes it, since which Chrome, Firefox and iOS. */
const later = [
  // scripts
  ["AbortSignal.timeout", /AbortSignal\.timeout\(/, [124, 100, 16]],
  ["AbortSignal.any", /AbortSignal\.any\(/, [116, 124, 17.4]],
  ["AbortSignal.throwIfAborted", /\.throwIfAborted\(/, [100, 97, 15.4]],
  ["structuredClone", /\bstructuredClone\(/, [98, 94, 15.4]],
  ["Array.at", /\.at\(-?\d*\)/, [92, 90, 15.4]],
  ["Object.hasOwn", /\bObject\.hasOwn\(/, [93, 92, 15.4]],
  ["Array.findLast", /\.findLast(Index)?\(/, [97, 104, 15.4]],
  ["Array.toSorted", /\.(toSorted|toReversed|toSpliced)\(/, [110, 115, 16]],
  ["Array.fromAsync", /\bArray\.fromAsync\(/, [121, 115, 16.4]],
  ["Promise.withResolvers", /\bPromise\.(withResolvers|try)\(/, [119, 121, 17.4]],
  ["Object.groupBy", /\b(Object|Map)\.groupBy\(/, [117, 119, 17.4]],
  ["Set.union", /\.(intersection|symmetricDifference|isSubsetOf|isSupersetOf|isDisjointFrom)\(/, [122, 127, 17]],
  ["crypto.randomUUID", /\.randomUUID\(/, [92, 95, 15.4]],
  ["Uint8Array.fromBase64", /\.(fromBase64|toBase64|fromHex|toHex)\(/, [140, 133, 18.2]],
  ["URL.canParse", /\bURL\.canParse\(/, [120, 115, 17]],
  ["Intl.Segmenter", /\bIntl\.Segmenter\b/, [87, 125, 14.5]],
  ["lookbehind in a pattern", /\(\?<[=!]/, [62, 78, 16.4]],
  ["BroadcastChannel", /new BroadcastChannel\(/, [54, 38, 15.4]],
  ["SharedWorker", /new SharedWorker\(/, [5, 29, 16]],
  ["OffscreenCanvas", /new OffscreenCanvas\(/, [69, 105, 16.4]],
  ["navigator.wakeLock", /navigator\.wakeLock\./, [84, 126, 18.4]],
  ["navigator.locks", /navigator\.locks\b/, [69, 96, 15.4]],
  ["navigator.storage", /navigator\.storage\b/, [55, 57, 15.2]],
  ["dialog.showModal", /\.showModal\(/, [37, 98, 15.4]],
  ["inert", /\.inert=/, [102, 112, 15.5]],
  ["popover", /\.(show|hide|toggle)Popover\(/, [114, 125, 17]],
  ["startViewTransition", /\.startViewTransition\(/, [111, 144, 18]],
  ["requestIdleCallback", /\brequestIdleCallback\(/, [47, 55, never]],
  ["scheduler", /\bscheduler\.(postTask|yield)\(/, [94, 142, never]],
  ["DecompressionStream", /new (De)?[cC]ompressionStream\(/, [80, 113, 16.4]],
  ["Response.json", /\bResponse\.json\(/, [105, 115, 17]],
  ["canvas roundRect", /\.roundRect\(/, [99, 112, 16]],
  ["canvas filter", /\.filter=["`]/, [52, 49, never]],
  ["getCoalescedEvents", /\.getCoalescedEvents\(/, [58, 59, 18.2]],
  ["checkVisibility", /\.checkVisibility\(/, [105, 106, 17.4]],
  ["adoptedStyleSheets", /\.adoptedStyleSheets\b/, [73, 101, 16.4]],
  // style
  [":has()", /:has\(/, [105, 121, 15.4]],
  ["color-mix()", /color-mix\(/, [111, 113, 16.2]],
  ["@layer", /@layer\b/, [99, 97, 15.4]],
  ["@container", /@container\b/, [105, 110, 16]],
  ["@property", /@property\b/, [85, 128, 16.4]],
  ["ranges in @media", /@media[^{]*[<>]/, [104, 102, 16.4]],
  ["heights of the screen in dvh", /\d[dsl]v[hw]\b/, [108, 101, 15.4]],
  ["accent-color", /accent-color:/, [93, 92, 26.2]],
  ["scrollbar-gutter", /scrollbar-gutter:/, [94, 97, 18.2]],
  ["translate, rotate, scale as properties", /[;{](translate|rotate|scale):/, [104, 72, 14.5]],
  ["overflow: clip", /overflow(-[xy])?:clip/, [90, 81, 16]],
  ["backdrop-filter", /backdrop-filter:/, [76, 103, 18]],
  ["content-visibility", /content-visibility:/, [85, 125, 18]],
  ["text-wrap", /text-wrap:/, [114, 121, 17.4]],
];

/** What may stand there, because a bundle asks first or has another way beside it; as the bundle writes that. */
const withoutHarm = new Map([
  ["BroadcastChannel", /"BroadcastChannel"in window/],
  ["SharedWorker", /"SharedWorker"in window/],
  ["OffscreenCanvas", /"OffscreenCanvas"in|typeof OffscreenCanvas|OffscreenCanvas===|instanceof OffscreenCanvas/],
  ["navigator.wakeLock", /"wakeLock"in navigator/],
  ["navigator.storage", /"storage"in navigator/],
  ["Intl.Segmenter", /"Segmenter"in \w+/],
  ["Object.hasOwn", /!Object\.hasOwn\(\w+,\w+\)\)return!1/], // an operator of OpenLayers' styles that no style here has
  ["heights of the screen in dvh", /height:100vh;height:100dvh/],
]);

const { addSegmenter } = await load("shared/lib/segmenter.ts");
test("a text is cut into its characters where the browser cannot do that", () => {
  const old = {};
  addSegmenter(old);
  assert.deepEqual(Array.from(new old.Segmenter(undefined, { granularity: "grapheme" }).segment("W é"), (s) => s.segment), ["W", " ", "é"]);
  const { Segmenter } = Intl;
  addSegmenter(Intl);
  assert.equal(Intl.Segmenter, Segmenter);
});

const versions = oldest.map((name) => Number(/[\d.]+$/.exec(name)[0]));

/** The names of what a text has that is too new and not asked for first. */
const tooNew = (text) => later.filter(([name, form]) => form.test(text) && !withoutHarm.get(name)?.test(text)).map(([name]) => name);

table("too new", [
  ["nothing", tooNew("fetch(a).then(b);a.filter(c)"), []],
  ["a deadline for a request", tooNew("fetch(a,{signal:AbortSignal.timeout(2e4)})"), ["AbortSignal.timeout"]],
  ["not asked for", tooNew('new SharedWorker("/events.js")'), ["SharedWorker"]],
  ["asked for", tooNew('"SharedWorker"in window&&new SharedWorker("/events.js")'), []],
  ["a pattern that looks back", tooNew("/(?<=a)b/"), ["lookbehind in a pattern"]],
  ["a height alone", tooNew("body{height:100dvh}"), ["heights of the screen in dvh"]],
  ["a height with another before it", tooNew("body{height:100vh;height:100dvh}"), []],
]);
test("everything in the list came later than the oldest browsers", () => {
  assert.deepEqual(later.filter(([, , since]) => since.every((v, i) => v <= versions[i])).map(([name]) => name), []);
});

const outputFiles = (await Promise.all([page, beside].map((b) => build({ ...b, write: false })))).flatMap((b) => b.outputFiles);
for (const { path, text } of outputFiles) {
  const file = path.split("/").at(-1);
  test(`${file} is for old browsers too`, () => assert.deepEqual(tooNew(text), []));
}
test("the script that tells of an old browser is in the oldest form of the language", async () => {
  const [{ text }] = (await build({ ...guard, write: false })).outputFiles;
  assert.doesNotMatch(text, /=>|`|\b(let|const|class|async)\b|\?\?|\?\./);
});
test("the page says in words which browsers it takes", async () => {
  const words = JSON.parse(await readFile(new URL("../../../tiles/words/words.json", import.meta.url), "utf8")).page.too_old;
  for (const name of ["Chrome", "Firefox", "iOS"]) {
    assert.match(words, new RegExp(`${name} ${/[\d.]+$/.exec(oldest.find((o) => o.startsWith(name.toLowerCase())))[0]}\\b`));
  }
});
