package standard

import (
	"cmp"
	"math"
	"slices"
	"strconv"

	"groundsheet/tiles"
)

// matrixSet is the tile matrix set of Web Mercator with tiles of so many pixels. That
// of 256 pixels is registered as WebMercatorQuad (OGC 17-083r4, Annex D). The same
// squares in tiles of other sizes are another set, since their pixels are finer: with
// 512 pixels it is called WebMercatorQuad512.
type matrixSet int

// Registered reports whether OGC has registered the set.
func (m matrixSet) Registered() bool { return m == 256 }

// ID names the set.
func (m matrixSet) ID() string {
	if m.Registered() {
		return "WebMercatorQuad"
	}
	return "WebMercatorQuad" + strconv.Itoa(int(m))
}

// Title describes the set.
func (m matrixSet) Title() string {
	return "Web Mercator in tiles of " + strconv.Itoa(int(m)) + " pixels"
}

// Matrices are the matrices of all zooms.
func (m matrixSet) Matrices() []matrix { return m.between(0, tiles.MaxZoom) }

func (m matrixSet) between(shallowest, deepest int) (all []matrix) {
	for zoom := shallowest; zoom <= deepest; zoom++ {
		all = append(all, matrixOf(zoom, int(m)))
	}
	return all
}

// Set is the tile matrix set of the layer.
func (l layer) Set() matrixSet { return matrixSet(cmp.Or(l.TileSize, 256)) }

// SetID names the tile matrix set of the layer.
func (l layer) SetID() string { return l.Set().ID() }

// Sets are those of the layers, in their order.
func (s service) Sets() (all []matrixSet) {
	for _, l := range s.Layers {
		if !slices.Contains(all, l.Set()) {
			all = append(all, l.Set())
		}
	}
	return all
}

// Held are the matrices of a set from the shallowest to the deepest that one of its
// layers has. Clients that take the deepest matrix of a set for the layer's own get no
// empty one.
func (s service) Held(set matrixSet) []matrix {
	shallowest, deepest := tiles.MaxZoom+1, -1
	for _, l := range s.Layers {
		if n := len(l.Limits); n > 0 && l.Set() == set {
			shallowest, deepest = min(shallowest, l.Limits[0].Zoom), max(deepest, l.Limits[n-1].Zoom)
		}
	}
	return set.between(shallowest, deepest)
}

// matrix is one tile matrix of OGC 17-083r4, 7.1.
type matrix struct {
	ID      string     `json:"id"`
	Scale   float64    `json:"scaleDenominator"`
	Cell    float64    `json:"cellSize"`
	Corner  string     `json:"cornerOfOrigin"`
	Origin  [2]float64 `json:"pointOfOrigin"` // meters
	Width   int        `json:"tileWidth"`
	Height  int        `json:"tileHeight"`
	Columns int        `json:"matrixWidth"`
	Rows    int        `json:"matrixHeight"`
}

func matrixOf(zoom, size int) matrix {
	const half = math.Pi * tiles.EarthRadius // of a side of the world
	finer := 256 / float64(size)
	return matrix{
		ID: strconv.Itoa(zoom), Scale: tiles.ScaleDenominator(zoom) * finer, Cell: tiles.CellSize(zoom) * finer,
		Corner: "topLeft", Origin: [2]float64{-half, half}, Width: size, Height: size, Columns: 1 << zoom, Rows: 1 << zoom,
	}
}
