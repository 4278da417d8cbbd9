// Windows over the page: a dialog, a question.
import { make, makeButton } from "../../shared/lib/dom";
import { say } from "../../shared/lib/words";
import { opened } from "./cell";
import type { Dialog } from "./desk";
import "./dialog.css";

let count = 0;

/** Opens a dialog; Escape and its own button close it. The focus goes back to where it was. */
export function openDialog(title: string): Dialog {
  const before = document.activeElement;
  const head = make("h2", "", title.replace(/…$/, ""));
  head.id = `dialog-${++count}`;
  const [body, foot] = [make("div", "body"), make("div", "foot")];
  const close = makeButton([say("page.close")], () => box.close());
  close.className = "quiet";
  const box = make("dialog", "", make("div", "head", head, close), body, foot);
  box.setAttribute("aria-labelledby", head.id);
  document.body.append(box);
  const closed = new Promise<void>((done) => {
    box.addEventListener("close", () => {
      box.remove();
      if (before instanceof HTMLElement) before.focus();
      done();
    });
  });
  opened.set("dialog");
  box.showModal();
  return { body, foot, close: () => box.close(), closed };
}

/** Asks a question; the first answer has the focus. */
export async function ask(text: string, answers: string[]): Promise<string | null> {
  const dialog = openDialog(text);
  let given: string | null = null;
  const buttons = answers.map((a) => makeButton([a], () => {
    given = a;
    dialog.close();
  }));
  dialog.foot.append(...buttons);
  buttons[0]?.focus();
  await dialog.closed;
  return given;
}
