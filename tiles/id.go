package tiles

import (
	"cmp"
	"fmt"
	"math"
	"strconv"
	"strings"
	"time"
)

// MaxZoom is the deepest zoom of the tile matrix set: z 24 of WebMercatorQuad
// (OGC 17-083r4, Annex D), 0.93 cm a pixel at the equator.
const MaxZoom = 24

// MaxLatitude is where Web Mercator ends, in degrees: atan(sinh(pi)).
const MaxLatitude = 85.0511287798066

// ID is the place of one tile: zoom, column counted from the west, row counted
// from the north.
type ID struct {
	Z uint32 `json:"z"`
	X uint32 `json:"x"`
	Y uint32 `json:"y"`
}

// Valid reports whether the zoom exists and holds the column and row.
func (t ID) Valid() bool { return t.Z <= MaxZoom && t.X < 1<<t.Z && t.Y < 1<<t.Z }

// String gives "z/x/y".
func (t ID) String() string { return fmt.Sprintf("%d/%d/%d", t.Z, t.X, t.Y) }

// ParseID reads "z/x/y". The error names the text.
func ParseID(s string) (ID, error) {
	parts := strings.Split(s, "/")
	if len(parts) != 3 {
		return ID{}, fmt.Errorf("tile %q: want zoom/column/row", s)
	}
	var n [3]uint32
	for i, p := range parts {
		v, err := strconv.ParseUint(p, 10, 32)
		if err != nil {
			return ID{}, fmt.Errorf("tile %q: %q is not a whole number", s, p)
		}
		n[i] = uint32(v)
	}
	t := ID{n[0], n[1], n[2]}
	if !t.Valid() {
		return ID{}, fmt.Errorf("tile %q: no such tile (zoom 0 to %d, column and row below 2^zoom)", s, MaxZoom)
	}
	return t, nil
}

// TMSRow is the row counted from the south, as MBTiles stores it: 2^z - 1 - y
// (MBTiles 1.3). It is its own inverse.
func (t ID) TMSRow() uint32 { return 1<<t.Z - 1 - t.Y }

// Parent is the tile one zoom shallower that holds this one; zoom 0 is its own
// parent.
func (t ID) Parent() ID { return t.Ancestor(1) }

// Ancestor is the tile up zooms shallower, at most zoom 0.
func (t ID) Ancestor(up uint32) ID {
	up = min(up, t.Z)
	return ID{t.Z - up, t.X >> up, t.Y >> up}
}

// Children are the four tiles one zoom deeper: north-west, north-east,
// south-west, south-east.
func (t ID) Children() [4]ID {
	z, x, y := t.Z+1, t.X*2, t.Y*2
	return [4]ID{{z, x, y}, {z, x + 1, y}, {z, x, y + 1}, {z, x + 1, y + 1}}
}

// Quadkey is the base-4 key of the tile, one digit a zoom; "" at zoom 0.
func (t ID) Quadkey() string {
	key := make([]byte, t.Z)
	for i := range key {
		bit := t.Z - 1 - uint32(i)
		key[i] = byte('0' + (t.X>>bit)&1 + 2*((t.Y>>bit)&1))
	}
	return string(key)
}

// Compare orders tiles by zoom, row, column: the one tile order.
func Compare(a, b ID) int {
	return cmp.Or(cmp.Compare(a.Z, b.Z), cmp.Compare(a.Y, b.Y), cmp.Compare(a.X, b.X))
}

// At is the tile that holds a place given in degrees. Places outside the
// matrix count for the tile at its edge, so the result is always valid for a
// finite place.
func At(lon, lat float64, zoom int) ID {
	x, y := Project(lon, lat)
	n := uint32(1) << zoom
	return ID{uint32(zoom), matrixIndex(x, n), matrixIndex(y, n)}
}

func matrixIndex(v float64, n uint32) uint32 {
	return uint32(min(max(math.Floor(v*float64(n)), 0), float64(n-1)))
}

// Bounds is the ground box of the tile in degrees.
func (t ID) Bounds() Box {
	n := float64(uint32(1) << t.Z)
	west, north := Unproject(float64(t.X)/n, float64(t.Y)/n)
	east, south := Unproject(float64(t.X+1)/n, float64(t.Y+1)/n)
	return Box{west, south, east, north}
}

// Center is the middle of the tile in degrees.
func (t ID) Center() (lon, lat float64) {
	n := float64(uint32(1) << t.Z)
	return Unproject((float64(t.X)+0.5)/n, (float64(t.Y)+0.5)/n)
}

// Origin is where a tile's bytes came from and how long they are fresh.
type Origin struct {
	Source       string    // name in the operator's sources file
	Fetched      time.Time // when the bytes arrived or were last confirmed (UTC)
	FreshUntil   time.Time // after this the source is asked again (UTC)
	ETag         string    // validator as sent, with quotes; "" when none
	LastModified string    // HTTP-date as sent; "" when none
}

// ClockSlack is how far a stated time may lie ahead of a clock before one of
// the two is taken to be wrong: more than nearly every mistake of a time zone
// makes (the project's own choice, no source).
const ClockSlack = 24 * time.Hour

// Ahead reports whether the tile says that it was fetched later than now by
// more than [ClockSlack]: a clock was wrong then or is wrong now, so its age
// and freshness are unknown.
func (o Origin) Ahead(now time.Time) bool { return o.Fetched.After(now.Add(ClockSlack)) }

// Tile is one tile with its image as the source sent it, never re-encoded.
type Tile struct {
	ID
	Data []byte
	Origin
}
