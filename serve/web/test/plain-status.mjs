// The line of what is wrong: the worst first, how many more, and what is due when nothing is.
import { load, table } from "./load.mjs";

const { problemsOf, lineOf } = await load("field/job/status.ts");
const now = new Date(2026, 10, 25, 12);
const fit = { state: "fit", faults: 0, first: [] };
const bad = { state: "not fit", faults: 2, first: ["a tile is gone"] };
const unchecked = { state: "unchecked", faults: 0, first: [] };
const about = {
  name: "Mill lane", number: "7", invented: false, holes: 0, expected_missing: [], expected_nothing_here: [],
  ticket: { number: "24-1", valid_until: "2026-12-12" },
};
const good = { about, own: fit, next: null, reach: { state: "near" }, ahead: 0, positionOld: null, copy: "" };
const kinds = (facts) => problemsOf({ ...good, ...facts }, now).map((p) => p.kind);
const line = (facts) => {
  const f = { ...good, ...facts };
  const l = lineOf(f, problemsOf(f, now), now);
  return { ...l, lead: l.lead.replace(/\u2011/g, "-"), due: l.due.replace(/\u2011/g, "-"), also: l.also.replace(/\u2011/g, "-"), day: l.day.replace(/\u2011/g, "-"), rest: l.rest.replace(/\u2011/g, "-") };
};
const out = { state: "out", since: "2026-11-25T11:00:00Z" };
const everything = {
  own: bad, next: bad, reach: out, ahead: 600_000, positionOld: "3 min",
  about: { ...about, holes: 3, expected_missing: ["gas", "water"], expected_nothing_here: ["water"], ticket: { number: "24-1", valid_until: "2026-11-24" } },
};

table("what is wrong", [
  ["nothing", kinds({}), []],
  ["all of it, the worst first", kinds(everything), ["not-fit", "next-not-fit", "ticket", "position", "records", "records", "reach", "clocks", "holes"]],
  ["not checked comes last", kinds({ own: unchecked, positionOld: "3 min" }), ["position", "unchecked"]],
  ["nor the next one", kinds({ next: unchecked }), ["unchecked"]],
  ["a next one that is fit", kinds({ next: fit }), []],
  ["practice data is no fault", kinds({ about: { ...about, invented: true } }), []],
  ["a ticket that ended by the laptop's clock alone", kinds({ ahead: -30 * 86_400_000 }), ["ticket", "clocks"]],
  ["each way of being out of reach", ["out", "exchanged", "not-served", "join"].map((state) => kinds({ reach: { ...out, state } }).join()), ["reach", "reach", "reach", "reach"]],
  ["only what is unsafe is bad", problemsOf({ ...good, ...everything }, now).filter((p) => p.tone === "bad").map((p) => p.kind), ["not-fit", "next-not-fit", "ticket"]],
  ["the fault itself is in the whole text", problemsOf({ ...good, own: bad }, now)[0].full, "NOT FIT: do not rely on this pack. 2 faults: a tile is gone"],
]);
const missing = { ...about, expected_missing: ["electric"] };
const told = (facts) => {
  const { lead, also, due, day, rest } = line(facts);
  return [lead, also, due, day, rest].join(" / ");
};
table("the line", [
  ["nothing is wrong", line({}), { tone: "calm", lead: "Mill lane", due: "ticket to 2026-12-12", also: "", day: "", rest: "Job 7" }],
  ["no ticket, no number", line({ about: { ...about, number: "", ticket: null } }), { tone: "calm", lead: "Mill lane", due: "", also: "", day: "", rest: "" }],
  ["practice data is told where it is never cut", line({ about: { ...about, invented: true } }), { tone: "calm", lead: "Mill lane", due: "ticket to 2026-12-12", also: "practice data", day: "", rest: "Job 7" }],
  ["practice data is told beside a fault too", line({ own: bad, about: { ...about, invented: true } }), { tone: "bad", lead: "NOT FIT: do not rely on it", due: "", also: "practice data", day: "ticket to 2026-12-12", rest: "Mill lane" }],
  ["a doubt leaves what is due, small, before the job's name", line({ reach: out }), { tone: "doubt", lead: "Laptop out of reach", due: "", also: "", day: "ticket to 2026-12-12", rest: "Mill lane" }],
  ["a copy says of which day it is", line({ reach: out, copy: "2026-11-24T15:00:00Z" }).lead, "Kept copy of 2026-11-24, not live"],
  ["a copy in reach of the laptop is no matter", line({ copy: "2026-11-24T15:00:00Z" }).lead, "Mill lane"],
  ["more that is less grave is counted", told({ reach: out, ahead: 600_000 }), "Laptop out of reach /  / +1 / ticket to 2026-12-12 / Mill lane"],
  ["what is not recorded stays when the laptop is away", told({ reach: out, about: missing }), "No record of: electric / laptop out of reach /  / ticket to 2026-12-12 / Mill lane"],
  ["and with a kept copy", told({ reach: out, copy: "2026-11-24T15:00:00Z", about: missing, positionOld: "3 min" }), "Position 3 min old / no record of: electric · kept copy of 2026-11-24, not live /  / ticket to 2026-12-12 / Mill lane"],
  ["a position's age comes first when the laptop is away", told({ reach: out, positionOld: "3 min" }), "Position 3 min old / laptop out of reach /  / ticket to 2026-12-12 / Mill lane"],
  ["one whose age is not known", told({ positionOld: "" }), "Position is old /  /  / ticket to 2026-12-12 / Mill lane"],
  ["after what is unsafe", told({ own: bad, positionOld: "3 min" }), "NOT FIT: do not rely on it / position 3 min old /  / ticket to 2026-12-12 / Mill lane"],
  ["not fit comes first, and practice data stays", told({ own: bad, about: { ...missing, invented: true } }), "NOT FIT: do not rely on it / no record of: electric · practice data /  / ticket to 2026-12-12 / Mill lane"],
  ["a ticket that ended", told({ about: everything.about }), "Ticket EXPIRED 2026-11-24 / no record of: gas · nothing in use recorded here of: water / +1 /  / Mill lane"],
  ["all of it: nothing that is grave is only counted", told(everything),
    "NOT FIT: do not rely on it / the new pack is NOT FIT · ticket EXPIRED 2026-11-24 · position 3 min old · no record of: gas · nothing in use recorded here of: water · laptop out of reach / +2 /  / Mill lane"],
]);
