// A button that copies a text.
import { make, makeButton } from "../lib/dom";
import { say } from "../lib/words";

/** A button that copies what `text` gives; `name` tells a screen reader what that is. */
export function copyButton(name: string, text: () => string): HTMLButtonElement {
  const b = makeButton([say("place.copy")], () => void copy(text()).then((done) => {
    b.textContent = done ? say("place.copied") : say("place.hold");
  }));
  b.setAttribute("aria-label", say("place.copy_of", { name }));
  return b;
}

// The clipboard API needs a secure page; execCommand works on any.
async function copy(text: string): Promise<boolean> {
  try {
    await navigator.clipboard.writeText(text);
    return true;
  } catch {
    const field = make("textarea", "unseen");
    field.value = text;
    document.body.append(field);
    field.select();
    const done = document.execCommand("copy");
    field.remove();
    return done;
  }
}
