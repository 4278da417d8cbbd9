// What OpenLayers cuts a text along a line with, for browsers without it (Firefox before 125): into
// its characters. The letters of utilities are of one character each.

class Segmenter {
  segment = (text: string): { segment: string }[] => Array.from(text, (segment) => ({ segment }));
}

/** Puts it into a browser's Intl, unless it has a better one. */
export function addSegmenter(intl: object): void {
  if (!("Segmenter" in intl)) Object.assign(intl, { Segmenter });
}
