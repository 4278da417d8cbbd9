// Clocks, the ticket by both of them, and what a worker keeps.
import { load, table } from "./load.mjs";

const clock = await load("field/live/clock.ts");
const { ticketText, ticketEnded, dueText } = await load("field/job/ticket.ts");
const keeping = await load("field/offline/cachepolicy.ts");

const doubt = "Ticket, ages and positions may be told wrongly. Ages here are by this device.";
const noon = Date.parse("2026-11-25T12:00:00Z");
table("clocks", [
  ["the same", clock.clockAhead("Wed, 25 Nov 2026 12:00:00 GMT", noon, noon + 1000), 0],
  ["the phone an hour ahead", clock.clockAhead("Wed, 25 Nov 2026 11:00:00 GMT", noon, noon + 1000), 3_600_000],
  ["no date in the answer", clock.clockAhead(null, noon, noon), null],
  ["a date that is none", clock.clockAhead("yesterday", noon, noon), null],
  ["two minutes are not told", clock.clockWarning(120_000), ""],
  ["more are", clock.clockWarning(150_000), `Clocks differ: this device is 3 min ahead of the laptop. ${doubt}`],
  ["behind", clock.clockWarning(-7_500_000), `Clocks differ: this device is 2 h 5 min behind the laptop. ${doubt}`],
  ["unknown is not told", clock.clockWarning(null), ""],
  ["days and hours", clock.spanText(4 * 86_400_000 + 7_200_000), "4 days 2 h"],
  ["a day to the minute", clock.spanText(86_400_000), "1 day"],
  ["the middle one left out", clock.spanText(86_400_000 + 300_000), "1 day"],
  ["days by both", clock.daysByClock(new Date(2026, 10, 25, 0, 30), 3_600_000), { phone: "2026-11-25", laptop: "2026-11-24" }],
  ["the laptop's not known", clock.daysByClock(new Date(2026, 10, 25, 0, 30), null), { phone: "2026-11-25", laptop: "" }],
]);

const days = (phone, laptop) => ({ phone, laptop });
const hyphens = (text) => text.replace(/\u2011/g, "-");
const ticket = (valid_until, phone, laptop) => {
  const t = { number: "24-1", valid_until };
  return [ticketText(t, days(phone, laptop)), ticketEnded(t, days(phone, laptop)), dueText(t, days(phone, laptop))].map(hyphens);
};
table("ticket", [
  ["good", ticket("2026-11-26", "2026-11-25", "2026-11-25"), ["Ticket 24-1 · last valid day 2026-11-26", "", "ticket to 2026-11-26"]],
  ["today", ticket("2026-11-25", "2026-11-25", ""), ["Ticket 24-1 · last valid day 2026-11-25, today", "", "ticket ends today"]],
  ["ended by both", ticket("2026-11-24", "2026-11-25", "2026-11-25").slice(0, 2), ["Ticket 24-1 has EXPIRED · last valid day was 2026-11-24", "Ticket EXPIRED 2026-11-24"]],
  ["ended, the laptop's day not known", ticket("2026-11-24", "2026-11-25", "").slice(0, 2), ["Ticket 24-1 has EXPIRED · last valid day was 2026-11-24", "Ticket EXPIRED 2026-11-24"]],
  ["ended by the laptop's clock alone", ticket("2026-11-25", "2026-11-25", "2026-11-26").slice(0, 2), ["Ticket 24-1 has EXPIRED by the laptop's clock · last valid day was 2026-11-25", "Ticket EXPIRED by the laptop's clock"]],
  ["ended by the phone's alone", ticket("2026-11-25", "2026-11-26", "2026-11-25").slice(0, 2), ["Ticket 24-1 has EXPIRED by this device's clock · last valid day was 2026-11-25", "Ticket EXPIRED by this device's clock"]],
  ["not stated", ticket("", "2026-11-26", "2026-11-26"), ["Ticket 24-1 · last valid day not stated", "", "ticket: last day not stated"]],
]);

const home = "http://192.168.4.1:8460";
table("what is kept", [
  ["the page", keeping.cacheKind(`${home}/`, home), "document"],
  ["its script", keeping.cacheKind(`${home}/app.js`, home), "document"],
  ["the list of packs", keeping.cacheKind(`${home}/packs.json`, home), "document"],
  ["a document of a pack", keeping.cacheKind(`${home}/packs/a/overlays/1-water.geojson`, home), "document"],
  ["a tile of a version", keeping.cacheKind(`${home}/packs/a/tiles/17/1/2.jpg?v=12`, home), "tile"],
  ["a tile without", keeping.cacheKind(`${home}/packs/a/tiles/17/1/2.jpg`, home), ""],
  ["a search by words", keeping.cacheKind(`${home}/packs/a/overlays/2-gas/features?v=12&find=main&from=0`, home), ""],
  ["a stream of events", keeping.cacheKind(`${home}/events`, home), ""],
  ["another host", keeping.cacheKind("http://other.example/app.js", home), ""],
  ["whose a document is", keeping.packOf(`${home}/packs/site-one/about.json`), "site-one"],
  ["the list is no pack's", keeping.packOf(`${home}/packs.json`), ""],
]);
table("under which name", [
  ["the page", keeping.cacheKey(`${home}/`, true), `${home}/`],
  ["the page with a word", keeping.cacheKey(`${home}/?x=1`, true), `${home}/`],
  ["its file", keeping.cacheKey(`${home}/index.html`, true), `${home}/`],
  ["the list for programs, in a tab", keeping.cacheKey(`${home}/?f=json`, true), `${home}/?f=json`],
  ["a document in a tab", keeping.cacheKey(`${home}/packs/a/about.json`, true), `${home}/packs/a/about.json`],
  ["the list of packs, asked for by the page", keeping.cacheKey(`${home}/packs.json`, false), `${home}/packs.json`],
]);
const tile = (url, seen, bytes) => ({ url, seen, bytes });
table("making room", [
  ["there is enough", keeping.toEvict([tile("a", "1", 5)], 10), []],
  ["the longest kept goes first", keeping.toEvict([tile("new", "3", 5), tile("old", "1", 5), tile("mid", "2", 5)], 10), ["old"]],
  ["as many as needed", keeping.toEvict([tile("new", "3", 5), tile("old", "1", 5), tile("mid", "2", 5)], 5), ["old", "mid"]],
]);
