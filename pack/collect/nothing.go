package collect

import (
	"github.com/paulmach/orb"
	"github.com/paulmach/orb/planar"
	"github.com/paulmach/orb/project"

	"groundsheet/pack/fieldbook"
	"groundsheet/pack/record"
	"groundsheet/pack/record/derive"
	"groundsheet/tiles/geodesic"
	"groundsheet/tiles/geojson"
	"groundsheet/tiles/words"
)

// besideM is how near to a reading of the same utility it is doubtful that nothing was found,
// in meters (the project's own choice, no source). The page asks by the same figure; a test
// compares the two.
const besideM = 1

// nothing doubts each mark that says that nothing was found where another says that something
// was, when one of the two was looked at.
func (d *doubter) nothing(marks []fieldbook.Mark, looked func(fieldbook.Mark) bool) {
	read := map[string][]fieldbook.Mark{}
	for _, m := range marks {
		if _, is := m.Feature.Geometry.(orb.Point); is && !m.Struck && (m.Kind() == fieldbook.Reading || m.Kind() == fieldbook.TestHole) {
			read[utilityOf(m)] = append(read[utilityOf(m)], m)
		}
	}
	for _, m := range marks {
		if m.Kind() != fieldbook.NothingFound || m.Struck || m.Feature.Geometry == nil {
			continue
		}
		for _, r := range read[utilityOf(m)] {
			if (looked(m) || looked(r)) && besideOf(m.Feature.Geometry, r.Feature.Geometry.(orb.Point)) {
				d.add(m, "nothing beside a reading", words.Say("collect.nothing", "mark", nameOf(m), "within", d.in(besideM), "other", nameOf(r)))
				break
			}
		}
	}
}

// utilityOf is the code of the utility of a mark, "" where there is none of that name.
func utilityOf(m fieldbook.Mark) string {
	u, err := record.FindUtility(record.Text(m.Feature.Properties, "utility"))
	if err != nil {
		return ""
	}
	return u.Code
}

// besideOf reports whether a place lies in a geometry or within besideM of it.
func besideOf(g orb.Geometry, p orb.Point) bool {
	frame := geodesic.At(p)
	lon, lat := frame.Span(besideM)
	if near := (orb.Bound{Min: orb.Point{p[0] - lon, p[1] - lat}, Max: orb.Point{p[0] + lon, p[1] + lat}}); !near.Intersects(g.Bound()) {
		return false
	}
	for part := range geojson.Parts(g) {
		if area, is := part.(orb.Polygon); is && derive.Within(orb.MultiPolygon{area}, p) {
			return true
		}
		if planar.DistanceFrom(project.Geometry(orb.Clone(part), frame.Meters), orb.Point{}) <= besideM {
			return true
		}
	}
	return false
}
