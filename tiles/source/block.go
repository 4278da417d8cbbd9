package source

import (
	"math"
	"slices"

	"groundsheet/tiles"
)

// Outside reports whether the service itself says that it has no such tile, so
// that it need not be asked.
func (s Source) Outside(t tiles.ID) bool {
	return slices.ContainsFunc(s.Limits, func(l tiles.Limit) bool { return l.Zoom == int(t.Z) && !l.Has(t) })
}

// Block is the square of n×n tiles that one request brings a tile with: its
// north-western tile and n. Blocks lie side by side and never leave the world,
// so n is less than the source's metatile on the shallowest zooms; it is 1 for
// sources that send single tiles.
func (s Source) Block(t tiles.ID) (first tiles.ID, n int) {
	n = min(max(s.Metatile, 1), 1<<min(t.Z, 10))
	side := uint32(n)
	return tiles.ID{Z: t.Z, X: t.X / side * side, Y: t.Y / side * side}, n
}

// Bow is how far, in pixels, a picture drawn in degrees is off a Web Mercator
// block of metatile × metatile tiles at most, inside zoom z.
//
// Both have straight meridians and parallels, and columns agree. Rows do not:
// Web Mercator's y grows with latitude by y' = sec φ, y” = sec φ·tan φ, and a
// straight line over the interval Δφ leaves the curve by at most Δφ²·y”/8. As a
// part of the interval's own Δy = y'·Δφ that is Δφ·tan φ/8; with Δφ = Δy·cos φ
// and Δy = 2π·metatile/2^z it is 2π·metatile·sin φ/(8·2^z). Times the rows of
// the picture, metatile·tileSize, with sin φ at most 1:
//
//	π·metatile²·tileSize / (4·2^z) pixels
//
// 0.05 at zoom 12 for single tiles of 256 pixels.
func Bow(zoom, metatile, tileSize int) float64 {
	n := float64(max(metatile, 1))
	return math.Pi * n * n * float64(tileSize) / (4 * math.Exp2(float64(zoom)))
}

// mostBow is the most that a picture in degrees may be off, in pixels. With
// zoom 12 as the shallowest, also 512-pixel tiles stay below it.
const mostBow = 0.1

// degrees reports whether pictures are asked for in degrees.
func (s Source) degrees() bool { return s.CRS == "EPSG:4326" || s.CRS == "CRS:84" }

// crs is the reference system with its default.
func (s Source) crs() string {
	if s.CRS == "" && s.Kind == KindWMS {
		return WebMercator
	}
	return s.CRS
}

// WebMercator is the reference system of all tiles.
const WebMercator = "EPSG:3857"
