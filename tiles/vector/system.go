package vector

import (
	"fmt"
	"path/filepath"
	"slices"
	"strings"

	"github.com/paulmach/orb"

	"groundsheet/tiles/crs"
	"groundsheet/tiles/geojson"
)

// How says how a file is to be taken where it does not say it itself. The zero
// value takes every file at its word.
type How struct {
	EPSG     int      // number of the coordinate system; 0 = as the file says
	Layers   []string // the layers that are read, "*" for all; nil = the only one there is
	Encoding string   // of its text, such as "windows-1252"; "" = as the file says
}

// CheckHow refuses what is stated for a file that has no use for it.
func CheckHow(f File) error {
	ending := strings.ToLower(filepath.Ext(f.Name))
	const wgs84Code = 4326
	switch {
	case slices.Contains([]string{".geojson", ".json", ".kml", ".kmz", ".gpx"}, ending) && f.How.EPSG != 0 && f.How.EPSG != wgs84Code:
		return refuse(RuleProjection, "epsg", fmt.Sprintf("a %s file is in degrees on WGS 84 by its format, and epsg = %d is stated", ending, f.How.EPSG),
			"take epsg out; where the numbers are others all the same, let them be exported as a shapefile or GeoPackage")
	case len(f.How.Layers) > 0 && !slices.Contains(layered, ending):
		return refuse(RuleLayer, "layer", fmt.Sprintf("a %s file has no layers to choose from", ending), "take layer out")
	case f.How.Encoding != "" && !slices.Contains([]string{".shp", ".zip", ".csv", ".tsv", ".txt", ".dxf"}, ending):
		return refuse(geojson.RuleEncoding, "encoding", fmt.Sprintf("a %s file says itself how its text is written", ending), "take encoding out")
	}
	return nil
}

// layered are the endings of files with layers that can be chosen.
var layered = []string{".gpkg", ".dxf", ".zip", ".fgb", ".tab", ".mif", ".dgn", ".gml"}

// ownSystem reads the well-known text that a file brings; place names it.
func ownSystem(text, place string) (s crs.System, heights bool, err error) {
	if s, heights, err = crs.ByWKT(text); err != nil {
		err = within(place, err)
	}
	return s, heights, err
}

// settle decides what the numbers of a file mean: by what the file brings, or,
// where it brings nothing, by what is stated for it. Both must agree.
func (b *builder) settle(f File, own *crs.System, place string) (crs.System, error) {
	if f.How.EPSG == 0 {
		if own == nil {
			return crs.System{}, refuse(RuleProjection, place, "the file does not say what its numbers mean",
				"ask who made it for the coordinate system, and state it: epsg = 2231, for instance, is NAD83 / Colorado North in US survey feet")
		}
		return b.use(*own), nil
	}
	stated, err := crs.ByCode(f.How.EPSG)
	if err != nil {
		return stated, err
	}
	if own != nil && !stated.Same(*own) {
		return stated, refuse(RuleProjection, place, fmt.Sprintf("the file says %s, and epsg = %d is %s", own.Text(), f.How.EPSG, stated.Text()),
			"take out the one that is wrong: leave epsg out to go by the file; to go by epsg, take the file's own system away")
	}
	return b.use(stated), nil
}

// use notes what a system means for the user.
func (b *builder) use(s crs.System) crs.System {
	b.info.Datum, b.info.System, b.system = s.Datum, s.Text(), s
	if s.Datum != wgs84 {
		b.note("The coordinates are on %s, whose numbers lie up to a few meters from those of WGS 84; reading the file shifted nothing.", s.Datum)
	}
	if !s.Degrees() {
		b.note("Coordinates were converted from %s to degrees on %s.", s.Text(), s.Datum)
	}
	return s
}

// degrees turns a position of the file into longitude and latitude.
func (b *builder) degrees(p orb.Point, place string) (orb.Point, error) {
	q, ok := b.system.ToDegrees(p)
	if !ok && !b.system.Degrees() { // wrong degrees are for the check of every position to find
		return q, refuse(RuleProjection, place, fmt.Sprintf("position %v, %v is far outside of %s", p[0], p[1], b.system.Text()),
			"check that the coordinate system belongs to this file")
	}
	return q, nil
}

// noteElsewhere tells places outside of the ground that their system is for:
// most often the system belongs to another file.
func (b *builder) noteElsewhere() {
	n, where := 0, orb.Point{}
	for _, f := range b.features {
		if f.Geometry == nil {
			continue
		}
		if p := f.Geometry.Bound().Center(); !b.system.Used(p) {
			n, where = n+1, p
		}
	}
	if n > 0 {
		b.note("%s outside of the ground that %s is for, one near latitude %.4f, longitude %.4f: is it the coordinate system of this file?",
			lie(n), b.system.Text(), where[1], where[0])
	}
}

func lie(n int) string {
	if n == 1 {
		return "1 shape lies"
	}
	return fmt.Sprintf("%d shapes lie", n)
}
