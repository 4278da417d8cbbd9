package tiles

import "math"

// EarthRadius is the sphere of Web Mercator, in meters (EPSG method 1024).
const EarthRadius = 6378137.0

// pixelPitch is the standardized rendering pixel, in meters (OGC 17-083r4, 6.1.1).
const pixelPitch = 0.28e-3

// Project turns degrees into fractions of the world square: x 0 at longitude
// -180 to 1 at +180, y 0 at the northern edge of Web Mercator to 1 at the
// southern. Multiply by 2^z for tile units. Outside ±[MaxLatitude] y leaves 0..1.
func Project(lon, lat float64) (x, y float64) {
	s := math.Sin(lat * math.Pi / 180)
	return lon/360 + 0.5, 0.5 - math.Atanh(s)/(2*math.Pi)
}

// Unproject is the inverse of [Project]; the result is in degrees.
func Unproject(x, y float64) (lon, lat float64) {
	return (x - 0.5) * 360, math.Atan(math.Sinh((0.5-y)*2*math.Pi)) * 180 / math.Pi
}

// CellSize is the side of a pixel in projected meters for 256-pixel tiles:
// true on the ground only at the equator (OGC 17-083r4, Annex D).
func CellSize(zoom int) float64 {
	return 2 * math.Pi * EarthRadius / 256 / float64(uint64(1)<<zoom)
}

// ScaleDenominator is the scale of a zoom at the equator with the
// standardized pixel of 0.28 mm (OGC 17-083r4, Annex D).
func ScaleDenominator(zoom int) float64 { return CellSize(zoom) / pixelPitch }

// GroundResolution is the side of a pixel on the ground, in meters, at a
// latitude in degrees, for tiles of tileSize pixels (0 means 256):
// cos(lat) · 2π · 6378137 / (tileSize · 2^zoom).
func GroundResolution(lat float64, zoom, tileSize int) float64 {
	if tileSize == 0 {
		tileSize = 256
	}
	return math.Cos(lat*math.Pi/180) * CellSize(zoom) * 256 / float64(tileSize)
}

// NativeZoom is the shallowest zoom that shows every detail of a picture with
// pixels of resolution meters on the ground at a latitude: deeper ones only
// magnify. ceil(log2(cos(lat)·2π·6378137 / (tileSize·resolution))), at least 0.
func NativeZoom(lat, resolution float64, tileSize int) int {
	return max(0, int(math.Ceil(math.Log2(GroundResolution(lat, 0, tileSize)/resolution)-1e-9)))
}

// ZoomToPlace is the shallowest zoom from which something of size meters
// covers at least pixels pixels at a latitude.
func ZoomToPlace(lat, size, pixels float64, tileSize int) int {
	return NativeZoom(lat, size/pixels, tileSize)
}

// Box is a ground box in degrees, WGS 84, unless it is said to be in meters. West is never greater than east.
type Box struct{ West, South, East, North float64 }

// Contains reports whether a place in degrees lies in the box or on its edge.
func (b Box) Contains(lon, lat float64) bool {
	return lon >= b.West && lon <= b.East && lat >= b.South && lat <= b.North
}

// Valid reports whether the box is one of degrees: west below east, south below
// north, all within the world.
func (b Box) Valid() bool {
	return b.West >= -180 && b.West < b.East && b.East <= 180 && b.South >= -90 && b.South < b.North && b.North <= 90
}

// Center is the middle of the box in degrees.
func (b Box) Center() (lon, lat float64) { return (b.West + b.East) / 2, (b.South + b.North) / 2 }

// Join is the smallest box that holds both.
func (b Box) Join(o Box) Box {
	return Box{min(b.West, o.West), min(b.South, o.South), max(b.East, o.East), max(b.North, o.North)}
}

// Edges is the box of the tile in projected meters, EPSG:3857: 0, 0 is the
// middle of the world.
func (t ID) Edges() Box {
	n := float64(uint32(1) << t.Z)
	world := 2 * math.Pi * EarthRadius
	at := func(v uint32) float64 { return (float64(v)/n - 0.5) * world }
	return Box{at(t.X), -at(t.Y + 1), at(t.X + 1), -at(t.Y)}
}

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
