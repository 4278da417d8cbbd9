// Package tiles defines the types that every other package of groundsheet shares:
// a tile's place in the pyramid ([ID]), a range of zooms ([Zooms]), a set of
// tiles kept as runs in rows ([Cover]) and the measures of the Web Mercator
// tile matrix set.
//
// Tiles are XYZ everywhere: column 0 begins at longitude -180, row 0 is the
// northernmost. The TMS row (row 0 is the southernmost) exists only inside an
// MBTiles file and is made there with [ID.TMSRow].
//
// The one tile order is zoom, row, column, ascending. A plan, the office store
// and a pack are all walked in it, so that any two can be merged.
//
// The package does no input or output and imports only the standard library.
package tiles
