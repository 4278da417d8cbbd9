package vector

import (
	"fmt"
	"slices"
	"strings"

	"github.com/paulmach/orb"

	"groundsheet/tiles/crs"
	"groundsheet/tiles/geojson"
)

const wgs84 = "WGS 84"

// builder collects what one file gives, and counts it against the limits.
type builder struct {
	want             Want
	info             Info
	system           crs.System // of the numbers in the file; the zero value is degrees
	features         []geojson.Feature
	positions, parts int
}

// add checks a feature and keeps it.
func (b *builder) add(f geojson.Feature) error {
	positions, parts := countPositions(f.Geometry)
	if err := b.room(positions, f.Place); err != nil {
		return err
	}
	if b.parts += parts; b.parts > MaxParts {
		return refuse(geojson.RuleSize, f.Place, fmt.Sprintf("more than %d rings, lines or points of their own",
			MaxParts), "split the file")
	}
	if err := geojson.Check(f.Geometry, f.Place); err != nil {
		return err
	}
	b.positions += positions
	b.features = append(b.features, f)
	return nil
}

// room refuses n more positions when they are too many: readers ask before
// they gather, so that memory stays bounded.
func (b *builder) room(n int, place string) error {
	if b.positions+n <= geojson.MaxPositions {
		return nil
	}
	return refuse(geojson.RuleSize, place, fmt.Sprintf("more than %d positions", geojson.MaxPositions),
		"simplify the shapes or split the file")
}

// mostNotes is how many notes a user reads.
const mostNotes = 20

// note keeps a sentence for the user, once.
func (b *builder) note(format string, args ...any) {
	s := fmt.Sprintf(format, args...)
	switch n := len(b.info.Notes); {
	case slices.Contains(b.info.Notes, s):
	case n < mostNotes:
		b.info.Notes = append(b.info.Notes, s)
	case n == mostNotes:
		b.info.Notes = append(b.info.Notes, "There is more of this kind to note.")
	}
}

// noteLeftOut counts things that were left out.
func (b *builder) noteLeftOut(n int, one, why string) {
	if n > 0 {
		b.note("%s left out: %s.", were(n, one), why)
	}
}

// notesText is the notes for an error message.
func (b *builder) notesText() string {
	if len(b.info.Notes) == 0 {
		return ""
	}
	return " (" + strings.TrimSuffix(strings.Join(b.info.Notes, " "), ".") + ")"
}

// countPositions counts the positions and the parts of a geometry: its rings
// and lines, or a point of its own.
func countPositions(g orb.Geometry) (positions, parts int) {
	if _, single := g.(orb.Point); single {
		return 1, 1
	}
	for part := range geojson.Parts(g) {
		switch part := part.(type) {
		case orb.Point:
			positions++
		case orb.LineString:
			positions, parts = positions+len(part), parts+1
		case orb.Polygon:
			for _, ring := range part {
				positions, parts = positions+len(ring), parts+1
			}
		}
	}
	return positions, parts
}

// gather makes one geometry of several: of one kind its Multi form, else a
// collection; nil of none.
func gather(list []orb.Geometry) orb.Geometry {
	polygons, lines, points := ofKind[orb.Polygon](list), ofKind[orb.LineString](list), ofKind[orb.Point](list)
	switch len(list) {
	case 0:
		return nil
	case 1:
		return list[0]
	case len(polygons):
		return orb.MultiPolygon(polygons)
	case len(lines):
		return orb.MultiLineString(lines)
	case len(points):
		return orb.MultiPoint(points)
	}
	return orb.Collection(list)
}

func ofKind[G orb.Geometry](list []orb.Geometry) (all []G) {
	for _, g := range list {
		if one, ok := g.(G); ok {
			all = append(all, one)
		}
	}
	return all
}
