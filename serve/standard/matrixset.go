package standard

import (
	"math"
	"strconv"

	"groundsheet/tiles"
)

// Quad is the tile matrix set of Web Mercator with tiles of 256 pixels (OGC
// 17-083r4, Annex D). The same squares in tiles of other sizes are another set,
// since their pixels are finer: with 512 pixels it is called Quad512.
const Quad = "WebMercatorQuad"

// Names of what is meant, as registered by OGC.
const (
	quadURI  = "http://www.opengis.net/def/tilematrixset/OGC/1.0/WebMercatorQuad"
	crsURI   = "http://www.opengis.net/def/crs/EPSG/0/3857"
	crsURN   = "urn:ogc:def:crs:EPSG::3857"
	crs84    = "http://www.opengis.net/def/crs/OGC/1.3/CRS84"
	scaleURI = "http://www.opengis.net/def/wkss/OGC/1.0/GoogleMapsCompatible"
	scaleURN = "urn:ogc:def:wkss:OGC:1.0:GoogleMapsCompatible"
)

// SetID is the name of the layer's tile matrix set.
func (l Layer) SetID() string { return setID(l.size()) }

func setID(size int) string {
	if size == 256 {
		return Quad
	}
	return Quad + strconv.Itoa(size)
}

// sizes are those of the layers' tiles, in the order of the layers.
func (s Service) sizes() (all []int) {
	seen := map[int]bool{}
	for _, l := range s.Layers {
		if !seen[l.size()] {
			all = append(all, l.size())
		}
		seen[l.size()] = true
	}
	return all
}

func matrixID(zoom int) string { return strconv.Itoa(zoom) }

// half is half of a side of the world in metres.
const half = math.Pi * tiles.EarthRadius

// matrix is one tile matrix of OGC 17-083r4, 7.1.
type matrix struct {
	ID      string     `json:"id"`
	Scale   float64    `json:"scaleDenominator"`
	Cell    float64    `json:"cellSize"`
	Corner  string     `json:"cornerOfOrigin"`
	Origin  [2]float64 `json:"pointOfOrigin"`
	Width   int        `json:"tileWidth"`
	Height  int        `json:"tileHeight"`
	Columns int        `json:"matrixWidth"`
	Rows    int        `json:"matrixHeight"`
	zoom    int
}

func matrixOf(zoom, size int) matrix {
	finer := 256 / float64(size)
	return matrix{
		ID: matrixID(zoom), Scale: tiles.ScaleDenominator(zoom) * finer, Cell: tiles.CellSize(zoom) * finer,
		Corner: "topLeft", Origin: [2]float64{-half, half}, Width: size, Height: size, Columns: 1 << zoom, Rows: 1 << zoom, zoom: zoom,
	}
}

// matrixSet is a tile matrix set in JSON.
type matrixSet struct {
	ID       string   `json:"id"`
	Title    string   `json:"title"`
	URI      string   `json:"uri,omitempty"`
	CRS      string   `json:"crs"`
	Axes     []string `json:"orderedAxes"`
	Scales   string   `json:"wellKnownScaleSet,omitempty"`
	Matrices []matrix `json:"tileMatrices"`
}

// MatrixSet describes a tile matrix set of the site; ok is false when no layer
// uses it.
func (s Service) MatrixSet(id string) (doc any, ok bool) {
	for _, size := range s.sizes() {
		if setID(size) == id {
			return matrixSetOf(size), true
		}
	}
	return nil, false
}

func matrixSetOf(size int) matrixSet {
	set := matrixSet{ID: setID(size), Title: setTitle(size), CRS: crsURI, Axes: []string{"X", "Y"}}
	if size == 256 {
		set.URI, set.Scales = quadURI, scaleURI
	}
	for zoom := range tiles.MaxZoom + 1 {
		set.Matrices = append(set.Matrices, matrixOf(zoom, size))
	}
	return set
}

func setTitle(size int) string {
	return "Web Mercator in tiles of " + strconv.Itoa(size) + " pixels"
}
