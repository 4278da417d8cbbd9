// The sheet: rises over the map on a phone, stands beside it on a wide screen.
import { byId } from "../lib/dom";

/** What a sheet can show. Built anew at every opening. */
export interface Page {
  title: string;
  body: () => Node[];
}

export interface Sheet {
  /** Opens a page and moves the focus there; closing gives the focus back. */
  open(page: Page): void;
  /** Closes; on a wide screen the resting page comes back. */
  close(): void;
  /** Draws the present page again, after what it tells has changed. */
  refresh(): void;
  /** Draws a page again if it is the one in view. */
  redrawPage(page: Page): void;
  /** Sets what stands in the panel of a wide screen when nothing is open. */
  setDefault(page: Page): void;
  /** Opens a page, or closes it if it is the open one. */
  toggle(page: Page): void;
  /** How many pixels of the map's foot the sheet lies over. */
  covers(): number;
}

export function makeSheet(onClose: () => void): Sheet {
  const box = byId("sheet");
  const title = byId("sheet-title");
  const body = byId("sheet-body");
  let resting: Page | null = null;
  let current: Page | null = null;
  let opener: HTMLElement | null = null;

  const draw = () => {
    const page = current ?? resting;
    box.classList.toggle("open", current !== null);
    if (page === null) return;
    title.textContent = page.title;
    body.replaceChildren(...page.body());
  };
  const sheet: Sheet = {
    open(page) {
      if (current === null && document.activeElement instanceof HTMLElement) opener = document.activeElement;
      current = page;
      draw();
      body.scrollTop = 0;
      box.focus({ preventScroll: true });
      box.scrollIntoView({ block: "nearest" }); // of use where the page scrolls, with very large text
    },
    close() {
      if (current === null) return;
      current = null;
      draw();
      onClose();
      opener?.focus({ preventScroll: true });
      opener = null;
    },
    refresh() {
      const top = body.scrollTop;
      draw();
      body.scrollTop = top;
    },
    redrawPage(page) {
      if ((current ?? resting) === page) sheet.refresh();
    },
    setDefault(page) {
      resting = page;
      draw();
    },
    toggle: (page) => (current === page ? sheet.close() : sheet.open(page)),
    covers() {
      const stage = byId("stage").getBoundingClientRect();
      const own = box.getBoundingClientRect();
      return own.left < stage.right && own.right > stage.left ? Math.max(0, stage.bottom - own.top) : 0;
    },
  };
  // What is told over the map stands above the sheet, never on its words.
  new ResizeObserver(() => document.body.style.setProperty("--covered", `${sheet.covers()}px`)).observe(box);
  // And the sheet leaves room for it, as far as it can: its Close is never under it.
  new ResizeObserver(([e]) => document.body.style.setProperty("--over", `${e?.target.clientHeight ?? 0}px`)).observe(byId("over"));
  byId("sheet-close").addEventListener("click", sheet.close);
  document.addEventListener("keydown", (e) => {
    if (e.key === "Escape") sheet.close();
  });
  return sheet;
}
