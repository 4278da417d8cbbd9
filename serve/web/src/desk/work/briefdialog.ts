// The brief of a pack, page by page, as it would be printed. The server's document is read by
// the browser without running or loading anything, and only what a brief is made of is taken
// over: texts, tables, and drawings as images, in which nothing runs.
import { make, makeButton, setText } from "../../shared/lib/dom";
import { say } from "../../shared/lib/words";
import type { Desk } from "../app/desk";
import { baseName } from "./findings";

const kept = new Set(["H1", "H2", "P", "UL", "LI", "DIV", "SECTION", "TABLE", "THEAD", "TBODY", "TR", "TH", "TD"]);

/** A copy of what a brief is made of. */
function copyOf(node: Node): Node | null {
  if (node.nodeType === Node.TEXT_NODE) return document.createTextNode(node.textContent ?? "");
  if (!(node instanceof Element)) return null;
  if (node.tagName === "IMG") {
    const [src, alt] = [node.getAttribute("src") ?? "", node.getAttribute("alt") ?? ""];
    return src.startsWith("data:image/svg+xml;base64,") ? Object.assign(make("img", ""), { src, alt }) : null;
  }
  if (!kept.has(node.tagName)) return null;
  const copy = document.createElement(node.tagName);
  if (node.classList.contains("loud")) copy.className = "loud";
  copy.append(...[...node.childNodes].flatMap((c) => copyOf(c) ?? []));
  return copy;
}

/** The pages of a brief: the words before the maps, each map, the words after them. */
function pagesOf(text: string): HTMLElement[] {
  const pages: HTMLElement[] = [];
  let words: HTMLElement | null = null;
  const bare = text.replace(/<style>[^]*?<\/style>/, ""); // the page's policy would complain of it
  for (const node of new DOMParser().parseFromString(bare, "text/html").body.children) {
    const map = node.classList.contains("map");
    if (map || words === null) pages.push((words = make("article", map ? "sheet map" : "sheet")));
    const copy = copyOf(node);
    if (copy !== null) words.append(copy);
    if (map) words = null;
  }
  return pages;
}

export async function openBrief(desk: Desk, job: string, packs: string[]): Promise<void> {
  const dialog = desk.dialog(say("work.brief"));
  const box = dialog.body.closest("dialog");
  box?.classList.add("paper");
  const where = make("span", "where");
  where.setAttribute("role", "status");
  let [at, pack] = [0, packs[0] ?? ""];
  let pages: HTMLElement[] = [];
  const go = (to: number) => {
    at = Math.max(0, Math.min(pages.length - 1, to));
    const page = pages[at];
    if (page === undefined) return;
    dialog.body.replaceChildren(page);
    dialog.body.scrollTop = 0;
    setText(where, say("work.page_of", { n: at + 1, all: pages.length }));
    [before.disabled, after.disabled] = [at === 0, at === pages.length - 1];
  };
  const before = makeButton([say("work.page_before")], () => go(at - 1));
  const after = makeButton([say("work.page_after")], () => go(at + 1));
  const path = () => `/api/jobs/${job}/brief?pack=${encodeURIComponent(pack)}`;
  const pdf = makeButton([say("work.save_pdf")], () => void save(desk, `${path()}&as=pdf`, pack.replace(/\.mbtiles$/, ".pdf")).catch(desk.fail));
  const read = async () => {
    dialog.body.replaceChildren(make("p", "dim", say("work.brief_is_made")));
    pages = pagesOf(await (await desk.api.raw(path())).text());
    go(0);
  };
  if (packs.length > 1) {
    const choice = make("select", "", ...packs.map((p) => new Option(p)));
    choice.setAttribute("aria-label", say("work.which_pack"));
    choice.addEventListener("change", () => {
      pack = choice.value;
      void read().catch(desk.fail);
    });
    dialog.foot.append(choice);
  }
  dialog.foot.append(pdf, before, where, after);
  box?.addEventListener("keydown", (e) => {
    if (e.target instanceof HTMLSelectElement) return;
    if (e.key === "ArrowRight" || e.key === "PageDown") go(at + 1);
    else if (e.key === "ArrowLeft" || e.key === "PageUp") go(at - 1);
    else return;
    e.preventDefault();
  });
  try {
    await read();
    after.focus();
  } catch (e) {
    dialog.close();
    throw e;
  }
}

/** Hands a file of the desk to the browser, to be saved. */
async function save(desk: Desk, path: string, name: string): Promise<void> {
  const url = URL.createObjectURL(await (await desk.api.raw(path)).blob());
  Object.assign(make("a", ""), { href: url, download: baseName(name) }).click();
  setTimeout(() => URL.revokeObjectURL(url), 60_000);
}
