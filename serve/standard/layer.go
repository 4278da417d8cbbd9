// Package standard serves the maps of a field server to other map programs
// on the hotspot: OGC WMTS 1.0.0 (07-057r7) in its RESTful and KVP encodings, and
// OGC API - Tiles (20-057) with the tile matrix sets of OGC 17-083r4.
package standard

import (
	"errors"
	"slices"
	"strconv"
	"strings"

	"groundsheet/tiles"
)

// layer is one map as other programs are told of it. Addresses of its tiles do
// not name its version: such programs keep a document for days, and have to find
// the tiles still when the map was packed again.
type layer struct {
	ID       string // its name in addresses
	Title    string
	About    string // plain words: whose picture, when taken, cautions
	Credit   string // attribution in plain words
	Media    string // of its tiles, such as "image/png"
	TileSize int    // pixels along a side; 0 = 256
	Bounds   tiles.Box
	Limits   []tiles.Limit // one for each zoom that holds tiles, shallowest first
	Tiles    string        // path of its tiles with {z}, {x} and {y}, such as "/packs/one/tiles/{z}/{x}/{y}.png"
	Version  string        // of its content; "" = none
}

// service is what is offered to whoever asked at one address. Documents hold
// absolute addresses, so they are made from the host that was asked.
type service struct {
	Base   string // such as "http://192.168.4.1:8460", without a slash at the end
	Title  string
	Layers []layer
}

// Find gives the layer of a name.
func (s service) Find(id string) (layer, bool) {
	for _, l := range s.Layers {
		if l.ID == id {
			return l, true
		}
	}
	return layer{}, false
}

// At reads a place as these standards write it: set, matrix, row and column.
// The error is a [exceptionReport] that names the first part that is wrong.
func (l layer) At(set, matrix, row, col string) (tiles.ID, error) {
	if set != l.SetID() {
		return tiles.ID{}, report(invalidParameterValue, "TileMatrixSet", "layer %s has TileMatrixSet %s alone", l.ID, l.SetID())
	}
	i := slices.IndexFunc(l.Limits, func(m tiles.Limit) bool { return strconv.Itoa(m.Zoom) == matrix })
	if i < 0 {
		return tiles.ID{}, report(invalidParameterValue, "TileMatrix", "layer %s has no such TileMatrix: it has %s", l.ID, l.matrices())
	}
	m := l.Limits[i]
	y, ok := number(row)
	if !ok {
		return tiles.ID{}, report(invalidParameterValue, "TileRow", "want a whole number")
	}
	x, ok := number(col)
	if !ok {
		return tiles.ID{}, report(invalidParameterValue, "TileCol", "want a whole number")
	}
	if y < uint64(m.MinRow) || y > uint64(m.MaxRow) {
		return tiles.ID{}, report(tileOutOfRange, "TileRow", "rows go from %d to %d", m.MinRow, m.MaxRow)
	}
	if x < uint64(m.MinCol) || x > uint64(m.MaxCol) {
		return tiles.ID{}, report(tileOutOfRange, "TileCol", "columns go from %d to %d", m.MinCol, m.MaxCol)
	}
	return tiles.ID{Z: uint32(m.Zoom), X: uint32(x), Y: uint32(y)}, nil
}

// number reads a whole number; one too large for a tile is a number still, and out of
// range.
func number(text string) (n uint64, ok bool) {
	n, err := strconv.ParseUint(text, 10, 64)
	return n, err == nil || errors.Is(err, strconv.ErrRange)
}

func (l layer) matrices() string {
	if len(l.Limits) == 0 {
		return "none, for it holds no tile"
	}
	var all []string
	for _, m := range l.Limits {
		all = append(all, strconv.Itoa(m.Zoom))
	}
	return strings.Join(all, ", ")
}

// Template is the path of the layer's tiles with the names of WMTS.
func (l layer) Template() string {
	return strings.NewReplacer("{z}", "{TileMatrix}", "{x}", "{TileCol}", "{y}", "{TileRow}").Replace(l.Tiles)
}
