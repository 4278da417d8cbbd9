/** One interpretation of typed coordinates, on WGS 84. */
export interface Reading {
  lat: number;
  lon: number;
  /** what was understood, as a sentence */
  words: string;
}
