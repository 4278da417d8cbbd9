// Choosing a look: kept on this device, else as the device asks for it.
import { make } from "../lib/dom";
import { getStored, setStored } from "../lib/storage";
import { defaultTheme, setTheme, theme, type ThemeName, themes } from "../lib/theme";
import { say } from "../lib/words";
import "./theme.css";

export interface ThemePicker {
  /** What to choose from, for a sheet. */
  body(): Node[];
  /** Sets what runs after a change, to draw the map anew. */
  onChange(f: () => void): void;
}

const kept = "look";
const queries = ["(prefers-contrast: more)", "(prefers-color-scheme: dark)"];

/** Puts the kept look on at once. */
export function makeThemePicker(): ThemePicker {
  let changed: () => void = () => undefined;
  const wants = (query: string) => matchMedia(query).matches;
  const put = () => {
    const l = setTheme(getStored(kept) || defaultTheme(wants));
    const faint = getStored(`faint ${l.name}`);
    document.documentElement.dataset.light = l.name;
    document.documentElement.classList.toggle("faint", faint === "" ? l.faint : faint === "yes");
    changed();
  };
  for (const q of queries) matchMedia(q).addEventListener("change", put);
  put();
  const choose = (name: ThemeName) => {
    setStored(kept, name);
    put();
    box.checked = document.documentElement.classList.contains("faint");
  };
  const box = make("input", "");
  box.type = "checkbox";
  box.id = "faint-picture";
  box.addEventListener("change", () => {
    setStored(`faint ${theme().name}`, box.checked ? "yes" : "no");
    put();
  });
  return {
    body() {
      box.checked = document.documentElement.classList.contains("faint");
      return [
        make("fieldset", "choices", make("legend", "", say("lights.look")), ...themes.map((l) => choice(l.name, l.title, l.words, () => choose(l.name)))),
        make("ul", "records", make("li", "", make("label", "", box, make("span", "record", make("b", "", say("lights.faint")), make("span", "", say("lights.faint_words")))))),
      ];
    },
    onChange: (f) => {
      changed = f;
    },
  };
}

function choice(name: ThemeName, title: string, words: string, chosen: () => void): HTMLElement {
  const radio = make("input", "");
  radio.type = "radio";
  radio.name = "look";
  radio.value = name;
  radio.checked = theme().name === name;
  radio.addEventListener("change", chosen);
  return make("label", "", radio, make("span", "record", make("b", "", title), make("span", "", words)));
}
