// The sheet: over the map on a phone, where its head is dragged, beside it on a wide screen.
import { byId } from "../lib/dom";
import { afterPress } from "../lib/press";
import { settledAt, type SheetHeights, sheetHeights } from "./sheetheight";
import "./sheet.css";
import "./content.css";

/** The content of a sheet, built at every opening. */
export interface Page {
  title: string;
  body: () => Node[];
}

export interface Sheet {
  /** Opens a page and moves the focus there; closing returns the focus. */
  open(page: Page): void;
  /** Closes the page; a wide screen shows the default page again. */
  close(): void;
  /** Redraws the current page after its content has changed; not under a press. */
  refresh(): void;
  /** Makes an open sheet as high as it goes. */
  full(): void;
  /** Redraws a page if it is the current one. */
  redrawPage(page: Page): void;
  /** Sets the page that a wide screen shows while none is open. */
  setDefault(page: Page): void;
  /** Opens a page, or closes it if it is the open one; `button` tells whether it is open. */
  toggle(page: Page, button?: HTMLElement): void;
}

/** Makes the sheet; `moved` runs whenever it may cover more or less, `closed` when it closes. */
export function makeSheet({ closed, moved }: { closed(): void; moved(): void }): Sheet {
  const box = byId("sheet");
  const title = byId("sheet-title");
  const body = byId("sheet-body");
  const height = makeHeight(box, () => sheet.close());
  const buttons = new Map<HTMLElement, Page>();
  let resting: Page | null = null;
  let current: Page | null = null;
  let opener: HTMLElement | null = null;

  const draw = () => {
    const page = current ?? resting;
    box.classList.toggle("open", current !== null);
    document.body.dataset.sheet = current === null ? "closed" : "open";
    for (const [button, of] of buttons) button.setAttribute("aria-expanded", String(of === current));
    if (page === null) return;
    title.textContent = page.title;
    body.replaceChildren(...page.body());
  };
  const redraw = () => {
    const top = body.scrollTop;
    draw();
    body.scrollTop = top;
  };
  const sheet: Sheet = {
    open(page) {
      if (current === null && document.activeElement instanceof HTMLElement) opener = document.activeElement;
      current = page;
      draw();
      height.first();
      moved();
      body.scrollTop = 0;
      box.focus({ preventScroll: true });
      box.scrollIntoView({ block: "nearest" }); // for very large text, where the page scrolls
    },
    close() {
      if (current === null) return;
      current = null;
      draw();
      moved();
      closed();
      opener?.focus({ preventScroll: true });
      opener = null;
    },
    refresh: () => afterPress(redraw),
    full() {
      if (current === null) return;
      height.full();
      moved();
    },
    redrawPage(page) {
      if ((current ?? resting) === page) sheet.refresh();
    },
    setDefault(page) {
      resting = page;
      draw();
    },
    toggle(page, button) {
      if (button) buttons.set(button, page);
      if (current === page) sheet.close();
      else sheet.open(page);
    },
  };
  byId("sheet-close").addEventListener("click", sheet.close);
  document.addEventListener("keydown", (e) => {
    if (e.key === "Escape") sheet.close();
  });
  return sheet;
}

/** Sets the height of the sheet: its head is dragged, or its grip takes the arrow keys. */
function makeHeight(box: HTMLElement, close: () => void): { first(): void; full(): void } {
  const head = byId("sheet-head");
  const grip = byId("sheet-grip");
  let heights: SheetHeights = { first: 0, full: 0 };
  const measure = () => {
    const below = byId("foot").getBoundingClientRect();
    heights = sheetHeights(byId("stage").getBoundingClientRect().top, below.bottom, innerHeight);
  };
  const set = (px: number, tall: boolean) => {
    box.style.setProperty("--sheet", `${px}px`);
    box.classList.toggle("tall", tall);
    grip.setAttribute("aria-valuemin", String(heights.first));
    grip.setAttribute("aria-valuemax", String(heights.full));
    grip.setAttribute("aria-valuenow", String(Math.round(px)));
  };
  const go = (to: ReturnType<typeof settledAt>) => {
    if (to === "closed") close();
    else set(heights[to], to === "full"); // a short page is no higher than its text
  };
  const first = () => {
    measure();
    go("first");
  };
  addEventListener("resize", first);
  grip.addEventListener("keydown", (e) => {
    const to = ({ ArrowUp: "full", Home: "full", ArrowDown: box.classList.contains("tall") ? "first" : "closed", End: "first" } as const)[e.key];
    if (to === undefined) return;
    e.preventDefault();
    go(to);
  });
  head.addEventListener("pointerdown", (e) => {
    if (e.button !== 0 || getComputedStyle(grip).display === "none" || (e.target as Element).closest("button")) return;
    measure();
    const from = { y: e.clientY, height: box.offsetHeight };
    let last = { y: e.clientY, at: e.timeStamp, speed: 0 };
    const move = (m: PointerEvent) => {
      const speed = (last.y - m.clientY) / Math.max(1, m.timeStamp - last.at);
      last = { y: m.clientY, at: m.timeStamp, speed };
      if (Math.abs(from.y - m.clientY) > 3) set(Math.min(heights.full, Math.max(48, from.height + from.y - m.clientY)), true);
    };
    const stop = (u: PointerEvent) => {
      head.removeEventListener("pointermove", move);
      if (Math.abs(from.y - u.clientY) > 3) go(settledAt(from.height + from.y - u.clientY, last.speed, heights));
    };
    head.setPointerCapture(e.pointerId);
    head.addEventListener("pointermove", move);
    head.addEventListener("pointerup", stop, { once: true });
    head.addEventListener("pointercancel", stop, { once: true });
  });
  return {
    first,
    full() {
      measure();
      go("full");
    },
  };
}
