// The look of the page for the light it is read in: day, night, or strong sun.
// What lies on the map takes its ink, paper and weight from here; the page's
// own colors are in light.css under the same names. Colors and casings of
// records are never changed: they mean something.
import { say } from "./words";

type ThemeName = "day" | "night" | "sun";

/** How things drawn on the map look in a light. */
interface Theme {
  name: ThemeName;
  title: string;
  words: string;
  /** how much wider lines are drawn than by day */
  weight: number;
  /** text and edges of labels, and what lies under them */
  ink: string;
  paper: string;
  /** whether the picture is weak unless the person says otherwise */
  faint: boolean;
}

export const themes: Theme[] = [
  { name: "day", title: say("lights.day"), words: say("lights.day_words"), weight: 1, ink: "#12161a", paper: "#ffffff", faint: false },
  { name: "night", title: say("lights.night"), words: say("lights.night_words"), weight: 1, ink: "#f3efe4", paper: "#14181b", faint: true },
  { name: "sun", title: say("lights.sun"), words: say("lights.sun_words"), weight: 1.5, ink: "#000000", paper: "#ffffff", faint: false },
];

const day = themes[0] as Theme;
let current = day;

/** The light that is on. */
export function theme(): Theme {
  return current;
}

/** Puts a light on; a name that is none means day. */
export function setTheme(name: string): Theme {
  current = themes.find((l) => l.name === name) ?? day;
  return current;
}

/** The light to begin with, from what the device says of its owner. */
export function defaultTheme(wants: (query: string) => boolean): ThemeName {
  if (wants("(prefers-contrast: more)")) return "sun";
  return wants("(prefers-color-scheme: dark)") ? "night" : "day";
}

/** Caches what `make` gives, by its key and the current theme. */
export function cachedByTheme<T>(make: (key: string) => T): (key: string) => T {
  const made = new Map<string, T>();
  return (key) => {
    const full = `${theme().name} ${key}`;
    let value = made.get(full);
    if (value === undefined) made.set(full, (value = make(key)));
    return value;
  };
}
