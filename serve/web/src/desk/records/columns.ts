// The columns of a dropped file over its first rows: what each is taken for can be changed.
import { make } from "../../shared/lib/dom";
import { say } from "../../shared/lib/words";
import type { Answers, Column, Proposal, Sure } from "./types";

export function columnsTable(p: Proposal, answered: (given: Answers) => void): HTMLElement {
  const meanings = p.columns.map((c) => make("th", "", meaningField(c, p, answered)));
  const names = p.columns.map((c) => make("th", "name", c.name, ...(c.meaning === "" ? [] : [make("span", `sure ${c.sure}`, sureText(c.sure))])));
  const rows = p.first.map((r) => make("tr", "", make("th", "", String(r.line)), ...p.columns.map((_, i) => make("td", "", r.cells?.[i] ?? ""))));
  const table = make("table", "", make("thead", "", make("tr", "", make("th", ""), ...meanings), make("tr", "", make("th", ""), ...names)), make("tbody", "", ...rows));
  const box = make("div", "columns", table);
  box.tabIndex = 0;
  box.setAttribute("role", "region");
  box.setAttribute("aria-label", say("record.columns"));
  return box;
}

function meaningField(c: Column, p: Proposal, answered: (given: Answers) => void): HTMLElement {
  const select = make("select", "");
  select.setAttribute("aria-label", say("record.meaning_of", { column: c.name }));
  select.dataset.key = `of ${c.name}`;
  select.title = c.why;
  select.append(new Option(say("record.kept"), "", false, c.meaning === ""));
  for (const m of p.meanings) select.append(new Option(m.replace(/_/g, " "), m, false, c.meaning === m));
  select.addEventListener("change", () => {
    const given: Answers = {};
    if (c.meaning !== "") given[`column.${c.meaning}`] = "";
    if (select.value !== "") given[`column.${select.value}`] = c.name;
    answered(given);
  });
  return select;
}

/** How a value is known, in a word. */
export const sureText = (sure: Sure): string => sureTexts[sure];

const sureTexts: Record<Sure, string> = {
  stated: say("record.sure_stated"), answered: say("record.sure_answered"), fits: say("record.sure_fits"), unknown: say("record.sure_unknown"),
};
