// A long list of rows of one height, of which only those in view are in the page. Arrow keys
// walk it; it is one stop for Tab.
import { make } from "../../shared/lib/dom";

/** The height of a row in pixels, as in jobs.css. */
const rowHeight = 92;
/** Rows that are kept ready above and below the view. */
const spare = 6;

interface RowList<T> {
  element: HTMLElement;
  set(rows: T[]): void;
  /** Draws one row again, when it is in the page. */
  redraw(id: string): void;
  redrawAll(): void;
  /** Brings a row into view. */
  reveal(id: string): void;
}

interface Options<T> {
  idOf: (row: T) => string;
  draw: (button: HTMLButtonElement, row: T) => void;
  press: (row: T) => void;
  /** the rows that have come into view */
  seen: (rows: T[]) => void;
}

export function makeRowList<T>(label: string, o: Options<T>): RowList<T> {
  const inner = make("ul", "rows");
  const element = make("div", "list", inner);
  inner.setAttribute("aria-label", label);
  let rows: T[] = [];
  let current = 0; // the row that Tab comes to
  const shown = new Map<string, { li: HTMLElement; button: HTMLButtonElement }>();

  const one = (row: T) => {
    const button = make("button", "job");
    button.type = "button";
    const li = make("li", "", button);
    button.addEventListener("click", () => {
      current = indexOf(o.idOf(row));
      o.press(rows[current] ?? row);
      look();
    });
    o.draw(button, row);
    return { li, button };
  };
  const indexOf = (id: string) => Math.max(0, rows.findIndex((r) => o.idOf(r) === id));
  const view = (): [number, number] => [Math.floor(element.scrollTop / rowHeight), Math.ceil((element.scrollTop + element.clientHeight) / rowHeight)];
  const look = () => {
    const [from, to] = view();
    const wanted = rows.slice(Math.max(0, from - spare), to + spare).map((row, i) => ({ row, at: Math.max(0, from - spare) + i }));
    if (document.activeElement instanceof HTMLElement && inner.contains(document.activeElement) && rows[current] !== undefined) wanted.push({ row: rows[current] as T, at: current });
    const ids = new Set(wanted.map((w) => o.idOf(w.row)));
    for (const [id, { li }] of shown) {
      if (ids.has(id)) continue;
      li.remove();
      shown.delete(id);
    }
    for (const { row, at } of wanted) {
      const id = o.idOf(row);
      let has = shown.get(id);
      if (has === undefined) {
        has = one(row);
        shown.set(id, has);
        inner.append(has.li);
      }
      place(has, at);
    }
    o.seen(rows.slice(from, to));
  };
  const place = ({ li, button }: { li: HTMLElement; button: HTMLButtonElement }, at: number) => {
    li.style.transform = `translateY(${at * rowHeight}px)`;
    li.setAttribute("aria-posinset", String(at + 1));
    li.setAttribute("aria-setsize", String(rows.length));
    button.tabIndex = at === current ? 0 : -1;
  };
  const focus = (at: number) => {
    current = Math.max(0, Math.min(rows.length - 1, at));
    keepInView(current);
    look();
    const row = rows[current];
    if (row !== undefined) shown.get(o.idOf(row))?.button.focus({ preventScroll: true });
    look();
  };
  const keepInView = (at: number) => {
    const [top, bottom] = [at * rowHeight, (at + 1) * rowHeight];
    if (top < element.scrollTop) element.scrollTop = top;
    else if (bottom > element.scrollTop + element.clientHeight) element.scrollTop = bottom - element.clientHeight;
  };
  const page = () => Math.max(1, Math.floor(element.clientHeight / rowHeight) - 1);
  const keys: Record<string, () => number> = {
    ArrowDown: () => current + 1, ArrowUp: () => current - 1, Home: () => 0, End: () => rows.length - 1, PageDown: () => current + page(), PageUp: () => current - page(),
  };
  inner.addEventListener("keydown", (e) => {
    const go = keys[e.key];
    if (go === undefined || e.ctrlKey || e.altKey || e.metaKey) return;
    e.preventDefault();
    focus(go());
  });
  let frame = 0;
  element.addEventListener("scroll", () => {
    cancelAnimationFrame(frame);
    frame = requestAnimationFrame(look);
  }, { passive: true });
  new ResizeObserver(look).observe(element);
  const redraw = (row: T) => {
    const has = shown.get(o.idOf(row));
    if (has) o.draw(has.button, row);
  };
  return {
    element,
    set(now) {
      const was = rows[current];
      rows = now;
      current = was === undefined ? 0 : indexOf(o.idOf(was));
      inner.style.height = `${rows.length * rowHeight}px`;
      look();
      for (const row of rows) redraw(row);
    },
    redraw(id) {
      const row = rows[indexOf(id)];
      if (row !== undefined) redraw(row);
    },
    redrawAll: () => rows.forEach(redraw),
    reveal(id) {
      const at = rows.findIndex((r) => o.idOf(r) === id);
      if (at < 0) return;
      current = at;
      keepInView(at);
      look();
    },
  };
}
