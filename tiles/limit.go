package tiles

import "math"

// Limit is the part of a zoom that holds tiles: from the first to the last
// column and row, both included (TileMatrixLimits, OGC 17-083r4, 6.3).
type Limit struct {
	Zoom                           int
	MinRow, MaxRow, MinCol, MaxCol uint32
}

// Has reports whether a tile lies within the limit. It may still not be there.
func (l Limit) Has(t ID) bool {
	return int(t.Z) == l.Zoom && t.X >= l.MinCol && t.X <= l.MaxCol && t.Y >= l.MinRow && t.Y <= l.MaxRow
}

// seam is how far, in tiles, a box may reach into the next tile and still end
// at the seam before it (OGC 17-083r4, Annex I).
const seam = 1e-6

// Limit is the part of a zoom that a box in degrees touches, cut to the world
// of Web Mercator.
func (b Box) Limit(zoom int) Limit {
	west, north := Project(b.West, min(b.North, MaxLatitude))
	east, south := Project(b.East, max(b.South, -MaxLatitude))
	n := float64(uint64(1) << zoom)
	within := func(v float64) uint32 { return uint32(min(max(v, 0), n-1)) }
	first := func(v float64) uint32 { return within(math.Floor(v*n + seam)) }
	last := func(v float64) uint32 { return within(math.Ceil(v*n-seam) - 1) }
	l := Limit{Zoom: zoom, MinRow: first(north), MinCol: first(west)}
	l.MaxRow, l.MaxCol = max(l.MinRow, last(south)), max(l.MinCol, last(east))
	return l
}
