// Helpers for building the page. Text is only ever inserted as text.

/** The element of the page with this id. */
export function byId<T extends HTMLElement = HTMLElement>(id: string): T {
  const e = document.getElementById(id);
  if (e === null) throw new Error(`the page has no #${id}`);
  return e as T;
}

/** A new element with a class, and children that are elements or plain text. */
export function make<K extends keyof HTMLElementTagNameMap>(
  tag: K, className: string, ...children: (Node | string)[]
): HTMLElementTagNameMap[K] {
  const e = document.createElement(tag);
  if (className !== "") e.className = className;
  e.append(...children);
  return e;
}

/** A new button; `press` runs when it is pressed. */
export function makeButton(content: (Node | string)[], press: () => void): HTMLButtonElement {
  const b = make("button", "", ...content);
  b.type = "button";
  b.addEventListener("click", press);
  return b;
}

/** A checkbox or radio button; `changed` runs when the person changes it. */
export function makeInput(type: "checkbox" | "radio", checked: boolean, changed: (checked: boolean) => void): HTMLInputElement {
  const input = make("input", "");
  input.type = type;
  input.checked = checked;
  input.addEventListener("change", () => changed(input.checked));
  return input;
}

/** A definition list of names and values. */
export function definitionList(rows: [string, string][]): HTMLElement {
  return make("dl", "", ...rows.flatMap(([name, value]) => [make("dt", "", name), make("dd", "", value)]));
}

/** Sets a text only where it differs: a screen reader reads a live region again whenever it is set. */
export function setText(e: HTMLElement, text: string): void {
  if (e.textContent !== text) e.textContent = text;
}

/** Makes nodes the children of an element; those that are there stay in it, so that a press on one is not lost. */
export function setChildren(e: HTMLElement, nodes: Node[]): void {
  const stay = new Set(nodes);
  for (const c of [...e.childNodes]) if (!stay.has(c)) c.remove();
  let at: ChildNode | null = e.firstChild;
  for (const n of nodes) {
    if (n === at) at = at.nextSibling;
    else e.insertBefore(n, at);
  }
}

/** Sets an attribute only where it differs: a page at rest writes nothing. */
export function setAttribute(e: Element, name: string, value: string): void {
  if (e.getAttribute(name) !== value) e.setAttribute(name, value);
}

/** Hides or shows an element, only where that changes something. */
export function setHidden(e: HTMLElement, hidden: boolean): void {
  if (e.hidden !== hidden) e.hidden = hidden;
}

/** A new SVG element with attributes. */
export function svg(tag: string, attributes: Record<string, string | number>, ...children: Node[]): SVGElement {
  const e = document.createElementNS("http://www.w3.org/2000/svg", tag);
  for (const [k, v] of Object.entries(attributes)) e.setAttribute(k, String(v));
  e.append(...children);
  return e;
}

/** The text of a snippet that may contain markup; nothing in it runs or loads. */
export function plainText(markup: string): string {
  const d = new DOMParser().parseFromString(markup, "text/html");
  for (const e of d.querySelectorAll("script, style")) e.remove();
  return (d.body.textContent ?? "").replace(/\s+/g, " ").trim();
}
