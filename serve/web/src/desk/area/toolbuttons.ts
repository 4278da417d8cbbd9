// The buttons over the map that begin to draw.
import { makeButton, setAttribute } from "../../shared/lib/dom";
import { say } from "../../shared/lib/words";
import type { ToolKind } from "./toolcontext";

interface ToolButtons {
  elements: HTMLElement[];
  /** Marks the one that is used; undefined = none. */
  mark(kind: ToolKind | null | undefined): void;
}

/** `press` gets null for changing what is drawn already. */
export function makeToolButtons(press: (kind: ToolKind | null) => void): ToolButtons {
  const kinds: [ToolKind | null, string][] = [["polygon", say("draw.outline")], ["route", say("draw.route")], ["circle", say("draw.circle")], [null, say("draw.edit")]];
  const elements = kinds.map(([kind, text]) => {
    const b = makeButton([text], () => press(kind));
    b.id = `tool-${kind ?? "edit"}`;
    return b;
  });
  return { elements, mark: (kind) => elements.forEach((b, i) => setAttribute(b, "aria-pressed", String(kinds[i]?.[0] === kind))) };
}
