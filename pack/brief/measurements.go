package brief

import (
	"cmp"
	"fmt"
	"iter"
	"slices"
	"strings"

	"github.com/paulmach/orb"
	"github.com/paulmach/orb/planar"

	"groundsheet/pack/record"
	"groundsheet/tiles/words"
)

// mostReadings are printed: some 25 pages. Those in the dig area come before
// others when there are more.
const mostReadings = 1500

// measurement is a recorded reading or test hole.
type measurement struct {
	record.Overlay
	properties map[string]any
	place      orb.Point
	testHole   bool
}

// measurements yields the readings and test holes of all records, in their order.
func (s packData) measurements() iter.Seq[measurement] {
	return func(yield func(measurement) bool) {
		for _, o := range s.overlays {
			for _, f := range o.Features {
				for _, p := range places(f.Geometry) {
					if !yield(measurement{o, f.Properties, p, o.IsTestHole(f)}) {
						return
					}
				}
			}
		}
	}
}

func places(g orb.Geometry) []orb.Point {
	switch g := g.(type) {
	case orb.Point:
		return []orb.Point{g}
	case orb.MultiPoint:
		return g
	}
	return nil
}

func (p measurement) style() record.Symbology {
	return record.SymbologyOf(p.Kind.Code, p.LevelOf(p.properties))
}

// text is a property for a table; "" where it is missing.
func (p measurement) text(name string) string {
	return sanitize(record.Text(p.properties, name), cellText)
}

// readingTable lists every reading, so that no depth is missing on paper.
func (s packData) readingTable() Section {
	out := table(words.Say("paper.readings_title"), words.Say("paper.readings_head"), 0.11, 0.17, 0.08,
		0.07, 0.13, 0.09, 0.16, 0.19)
	var more int
	if out.Rows, more = s.pointRows(false, s.readingRow); len(out.Rows) == 0 {
		out.Notes = []string{words.Say("brief.no_readings")}
	}
	if more > 0 {
		out.Notes = append(out.Notes, words.Say("brief.more_readings", "n", more, "shown", mostReadings))
	}
	if slices.ContainsFunc(out.Rows, func(row []string) bool { return row[4] == words.Say("brief.to_signal") }) {
		out.Notes = append(out.Notes, words.Say("brief.signal"))
	}
	return out
}

// testHoleTable lists every test hole apart from the readings: there the line was
// exposed.
func (s packData) testHoleTable() Section {
	out := table(words.Say("paper.test_holes"), words.Say("paper.test_holes_head"), 0.09, 0.15, 0.08,
		0.08, 0.16, 0.11, 0.11, 0.09, 0.13)
	var more int
	if out.Rows, more = s.pointRows(true, s.testHoleRow); more > 0 {
		out.Notes = append(out.Notes, words.Say("brief.more_test_holes", "n", more, "shown", mostReadings))
	}
	if len(out.Rows) > 0 {
		out.Notes = append(out.Notes, words.Say("testhole.limits"))
	}
	return out
}

// pointRows gives the rows of readings or test holes, at most [mostReadings], and
// how many more there are. Test holes, and readings that are too many, come with
// those in the dig area first.
func (s packData) pointRows(testHoles bool,
	row func(measurement, map[readingKey]stationName) []string) (rows [][]string, more int) {
	stations := s.stationNames()
	var all []measurement
	for p := range s.measurements() {
		if p.testHole == testHoles {
			all = append(all, p)
		}
	}
	more = max(0, len(all)-mostReadings)
	if testHoles || more > 0 {
		slices.SortStableFunc(all, func(a, b measurement) int { return insideFirst(a.in(s.area), b.in(s.area)) })
	}
	for _, p := range all[:len(all)-more] {
		rows = append(rows, row(p, stations))
	}
	return rows, more
}

// stationName is where a reading is along a line.
type stationName struct {
	line string // as people call it
	atM  float64
}

type readingKey struct {
	overlay string
	place   orb.Point
	row     int
}

func (s packData) stationNames() map[readingKey]stationName {
	all := map[readingKey]stationName{}
	for _, l := range s.derived.Lines {
		for _, x := range l.Stations {
			all[readingKey{l.Overlay, x.Place, x.Line}] = stationName{s.lineName(l.ID), x.AtM}
		}
	}
	return all
}

func (s packData) readingRow(p measurement, stations map[readingKey]stationName) []string {
	line, station := words.Say("paper.no_line_named", "utility", p.Kind.Code), "—"
	if name := p.text("line"); name != "" {
		line, station = p.Kind.Code+" "+name, words.Say("paper.not_along")
	}
	if x, ok := stations[readingKey{p.ID, p.place, p.row()}]; ok {
		line, station = x.line, s.in(x.atM)
	}
	depth := words.Say("paper.none")
	if m := p.depth(); m != nil {
		depth = depthText(m, s.about.Units)
	}
	return []string{
		cmp.Or(p.name(), words.Say("paper.not_numbered")), line, station, depth, p.reference(), s.accuracyText(p),
		cmp.Or(p.text("date"), stated(p.Recorded)), fmt.Sprintf("%.7f, %.7f", p.place.Lat(), p.place.Lon()),
	}
}

func (s packData) testHoleRow(p measurement, stations map[readingKey]stationName) []string {
	reading := s.readingRow(p, stations)
	depth, reference := reading[3], reading[4]
	if p.depth() == nil {
		depth = words.Say("paper.not_stated")
	}
	if elevation := p.text("elevation"); elevation != "" {
		reference += "; " + words.Say("testhole.elevation", "elevation", elevation, "datum", stated(p.text("vertical_datum")))
	}
	return []string{
		reading[0], reading[1], reading[2], depth, reference, stated(p.text("who")), reading[6],
		cmp.Or(p.text("photo"), words.Say("paper.no_photo")), reading[7],
	}
}

func (p measurement) in(area orb.MultiPolygon) bool {
	return planar.MultiPolygonContains(area, p.place)
}

// depth is nil where the record gives none.
func (p measurement) depth() *float64 { return record.Number(p.properties, "depth_m") }

// row is the line of its file; 0 = it is not of a table.
func (p measurement) row() int {
	if n := record.Number(p.properties, "line_in_file"); n != nil {
		return int(*n)
	}
	return 0
}

// name is what the record calls a reading, else its row.
func (p measurement) name() string {
	parts := slices.DeleteFunc([]string{p.text("order"), p.text("label")}, func(s string) bool { return s == "" })
	if len(parts) == 0 && p.row() > 0 {
		return words.Say("paper.row", "n", p.row())
	}
	return strings.Join(slices.Compact(parts), ", ")
}

func (s packData) accuracyText(p measurement) string {
	switch own := record.Number(p.properties, "accuracy_m"); {
	case own != nil:
		return s.in(*own)
	case p.Accuracy != nil:
		return words.Say("paper.accuracy_of_record", "accuracy", p.Accuracy.In(s.about.Units))
	}
	return words.Say("paper.not_stated")
}

// reference is the part of a line that a depth is measured to. A locator reads to
// the center of its signal.
func (p measurement) reference() string {
	switch of := p.text("depth_of"); {
	case of != "":
		return of
	case p.text("frequency_hz") != "" || p.text("current_ma") != "":
		return words.Say("brief.to_signal")
	}
	return words.Say("paper.not_stated")
}
