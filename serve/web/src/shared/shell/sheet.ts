// The sheet: over the map on a phone, beside it on a wide screen.
import { byId } from "../lib/dom";

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
  /** Redraws the current page after its content has changed. */
  refresh(): void;
  /** Redraws a page if it is the current one. */
  redrawPage(page: Page): void;
  /** Sets the page that a wide screen shows while none is open. */
  setDefault(page: Page): void;
  /** Opens a page, or closes it if it is the open one. */
  toggle(page: Page): void;
  /** How many pixels the sheet covers at the bottom of the map. */
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
      box.scrollIntoView({ block: "nearest" }); // for very large text, where the page scrolls
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
  // Notices over the map stay above the sheet, never on its text.
  new ResizeObserver(() => document.body.style.setProperty("--covered", `${sheet.covers()}px`)).observe(box);
  // And the sheet leaves room for notices as far as it can: they never cover its Close button.
  new ResizeObserver(([e]) => document.body.style.setProperty("--over", `${e?.target.clientHeight ?? 0}px`)).observe(byId("over"));
  byId("sheet-close").addEventListener("click", sheet.close);
  document.addEventListener("keydown", (e) => {
    if (e.key === "Escape") sheet.close();
  });
  return sheet;
}
