/** Half the width of the Web Mercator square, in projected meters. */
export const halfWorld = 20037508.342789244;
/** The projected meters per pixel of a zoom with tiles of 256 pixels, at zoom 0. */
export const resolutionAtZoom0 = (2 * halfWorld) / 256;
