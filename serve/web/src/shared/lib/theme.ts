// The themes: day, night, and strong sun. Map styles take ink, paper and line weight from
// here; the page's own colors are in theme.css under the same names. A theme never changes
// the colors of records: they have a meaning.
import { say } from "./words";

type ThemeName = "day" | "night" | "sun";

/** The part of a theme that map styles use. */
interface Theme {
  name: ThemeName;
  title: string;
  words: string;
  /** line width relative to day */
  weight: number;
  /** text and dots on the map relative to day */
  size: number;
  /** labels: text and edges, and background */
  ink: string;
  paper: string;
  /** a thin edge around black casings where these are not seen beside the picture, "" for none */
  edge: string;
  /** whether the picture is faint by default */
  faint: boolean;
}

export const themes: Theme[] = [
  { name: "day", title: say("lights.day"), words: say("lights.day_words"), weight: 1, size: 1, ink: "#12161a", paper: "#ffffff", edge: "", faint: false },
  { name: "night", title: say("lights.night"), words: say("lights.night_words"), weight: 1, size: 1, ink: "#f3efe4", paper: "#14181b", edge: "#8f9296", faint: true },
  { name: "sun", title: say("lights.sun"), words: say("lights.sun_words"), weight: 1.5, size: 1.25, ink: "#000000", paper: "#ffffff", edge: "", faint: true },
];

const day = themes[0] as Theme;
let current = day;

/** The edge around a casing in the current theme, "" for none. */
export const edgeOf = (casing: string): string => (casing.toLowerCase() === "#000000" ? current.edge : "");

/** The current theme. */
export const theme = (): Theme => current;

/** Sets the current theme; an unknown name means day. */
export function setTheme(name: string): Theme {
  current = themes.find((l) => l.name === name) ?? day;
  return current;
}

/** The default theme, from the media queries that the device matches. */
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
