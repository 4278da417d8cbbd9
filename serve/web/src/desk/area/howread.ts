// What a dropped file does not say itself is asked: its coordinate system, which of its layers.
import { make, makeButton } from "../../shared/lib/dom";
import { say } from "../../shared/lib/words";
import type { Desk } from "../app/desk";

export interface Asked {
  key: "layer" | "epsg";
  what: string;
  choices: { value: string; text: string }[];
}

/** The answer as it goes to the server; null when the file is left. */
export async function askHow(desk: Desk, file: string, asked: Asked): Promise<string | null> {
  const dialog = desk.dialog(say("draw.how_read", { file }));
  const pick = make("select", "", ...[{ value: "", text: say("draw.choose") }, ...asked.choices].map((c) => new Option(c.text, c.value)));
  pick.id = "how-pick";
  const typed = Object.assign(make("input", ""), { type: "text", id: "how-typed", placeholder: "2231", autocomplete: "off", spellcheck: false, inputMode: "numeric" });
  const field = (label: string, input: HTMLElement) => {
    const l = make("label", "", make("span", "", label), input);
    return l;
  };
  const fields = asked.key === "layer" ? [field(say("draw.layer"), pick)]
    : [...(asked.choices.length > 0 ? [field(say("draw.by_place"), pick)] : []), field(say("draw.by_number"), typed)];
  dialog.body.append(make("div", "form", make("p", "", asked.what), ...fields));
  let given: string | null = null;
  const now = () => typed.value.trim() || pick.value;
  const go = makeButton([say("draw.read_it")], () => {
    given = now();
    dialog.close();
  });
  go.className = "main";
  const look = () => { go.disabled = now() === ""; };
  for (const e of [pick, typed]) e.addEventListener("input", look);
  look();
  dialog.foot.append(go);
  (fields.length > 1 || asked.key === "layer" ? pick : typed).focus();
  await dialog.closed;
  return given;
}
