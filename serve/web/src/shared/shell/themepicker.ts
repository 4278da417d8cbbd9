// Choosing a theme: the one stored on this device, or else the one the device asks for.
import { make, makeInput } from "../lib/dom";
import { getStored, setStored } from "../lib/storage";
import { defaultTheme, setTheme, theme, themes } from "../lib/theme";
import { say } from "../lib/words";
import "./inputs.css";
import "./theme.css";

export interface ThemePicker {
  /** The choices, for a sheet. */
  body(): Node[];
  /** Sets what runs after a change, to redraw the map. */
  onChange(f: () => void): void;
}

const storedTheme = "look";
const queries = ["(prefers-contrast: more)", "(prefers-color-scheme: dark)"];

/** Applies the theme at once. */
export function makeThemePicker(): ThemePicker {
  const root = document.documentElement;
  const isFaint = () => root.classList.contains("faint");
  let changed: () => void = () => undefined;
  const apply = () => {
    const t = setTheme(getStored(storedTheme) || defaultTheme((query) => matchMedia(query).matches));
    const faint = getStored(`faint ${t.name}`);
    root.dataset.theme = t.name;
    root.classList.toggle("faint", faint === "" ? t.faint : faint === "yes");
    changed();
  };
  for (const q of queries) matchMedia(q).addEventListener("change", apply);
  apply();
  const box = makeInput("checkbox", isFaint(), (on) => {
    setStored(`faint ${theme().name}`, on ? "yes" : "no");
    apply();
  });
  box.id = "faint-picture";
  const record = (title: string, words: string) => make("span", "record", make("b", "", title), make("span", "", words));
  const choice = (name: string) => Object.assign(makeInput("radio", theme().name === name, () => {
    setStored(storedTheme, name);
    apply();
    box.checked = isFaint();
  }), { name: "look", value: name });
  return {
    body() {
      box.checked = isFaint();
      return [
        make("fieldset", "choices", make("legend", "", say("lights.look")),
          ...themes.map((t) => make("label", "", choice(t.name), record(t.title, t.words)))),
        make("ul", "records", make("li", "", make("label", "", box, record(say("lights.faint"), say("lights.faint_words"))))),
      ];
    },
    onChange(f) {
      changed = f;
    },
  };
}
