// The sheet of tools.
import { byId, make, makeButton } from "../lib/dom";
import { say } from "../lib/words";
import type { Page, Sheet } from "./sheet";

/** A button of the sheet. */
interface Tool {
  title: string;
  words: string;
  start(): void;
}

/** Wires the button of the sheet; `rest` is shown below the tools. */
export function makeToolMenu(sheet: Sheet, tools: Tool[], rest: () => Node[]): void {
  const page: Page = {
    title: say("page.tools"),
    body: () => [
      make("ul", "jobs", ...tools.map((t) => make("li", "", makeButton([make("b", "", t.title), make("span", "", t.words)], t.start)))),
      ...rest(),
    ],
  };
  byId("show-tools").onclick = () => sheet.toggle(page, byId("show-tools"));
}
