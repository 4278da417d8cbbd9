/** One interpretation of typed coordinates, on WGS 84. */
export interface Reading {
  lat: number;
  lon: number;
  /** the interpretation, as a sentence */
  words: string;
}
