// Where marks are drawn: a canvas, and how a place of the map comes to lie on it. The map's
// frames are one, a sample in the legend is another.
import type OLMap from "ol/Map";
import type { State } from "ol/render";

export interface Stage {
  context: CanvasRenderingContext2D;
  /** pixels of the canvas to one of the screen */
  ratio: number;
  /** projected meters to a pixel of the screen, at which marks were placed */
  resolution: number;
  /** pixels of the canvas to a projected meter */
  scale: number;
  /** the place of the canvas's upper left corner, projected */
  left: number;
  top: number;
}

let center: number[] = [0, 0];
let resolution = 1;

/** Follows the frames of a map. */
export function followFrames(map: OLMap): void {
  map.on("precompose", ({ frameState }) => {
    if (frameState) ({ center, resolution } = frameState.viewState);
  });
}

/** The stage of the frame that a style of the map draws to. */
export function stageOf({ context, pixelRatio, resolution: placed }: State): Stage {
  const scale = pixelRatio / resolution;
  const { width, height } = context.canvas;
  return {
    context, ratio: pixelRatio, resolution: placed, scale,
    left: (center[0] ?? 0) - width / 2 / scale, top: (center[1] ?? 0) + height / 2 / scale,
  };
}
