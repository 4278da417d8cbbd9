package derive

import (
	"cmp"
	"fmt"
	"math"
	"slices"

	"github.com/paulmach/orb"

	"groundsheet/pack/record"
	"groundsheet/tiles/geodesic"
	"groundsheet/tiles/geojson"
	"groundsheet/tiles/measure"
	"groundsheet/tiles/words"
)

// Line is one recorded line, or the line through the readings that name it.
// Lengths are meters along the ground; nil means not stated.
type Line struct {
	ID           string         `json:"id"` // unique in a job
	Overlay      string         `json:"overlay"`
	Utility      string         `json:"utility"`
	Name         string         `json:"name"`  // as the record calls it; may be ""
	Label        string         `json:"label"` // what is written on the record beside it; may be ""
	Basis        string         `json:"basis"` // "record" or "readings"
	QualityLevel string         `json:"quality_level"`
	Recorded     string         `json:"recorded"`
	Owner        string         `json:"owner"`
	Size         string         `json:"size"`   // in the record's words
	State        record.State   `json:"state"`  // "" = not stated
	Status       string         `json:"status"` // the same in the record's words; "" also where readings differ
	LengthM      float64        `json:"length_m"`
	HalfWidthM   *float64       `json:"half_width_m"`     // half of the size, where that is a length
	AccuracyM    *float64       `json:"accuracy_m"`       // horizontal, as recorded
	DepthM       *float64       `json:"depth_m"`          // one depth for all of it, as recorded
	DepthOf      string         `json:"depth_of"`         // in the record's words, see [Depth]; "" = not stated
	DepthDoubtM  *float64       `json:"depth_accuracy_m"` // of that depth, as recorded
	Stations     []Station      `json:"stations"`         // the readings along it, in order
	Path         orb.LineString `json:"path"`             // degrees; one position where only one reading names the line
	at           []float64      // meters from the beginning to each position of Path
}

// basisReadings is the basis of a line that no record has.
const basisReadings = "readings"

// makeLines makes the lines of an overlay: the recorded ones, with the readings
// that name them as stations, and one through the readings of each name that
// no recorded line has. Findings say how readings were put in order, with lengths in
// the units given, "" = us.
func makeLines(o record.Overlay, units string) ([]Line, []record.Finding) {
	var lines []Line
	byName := map[string][]int{}
	readings, names := map[string][]geojson.Feature{}, []string(nil)
	for _, f := range o.Features {
		name := record.Text(f.Properties, "line")
		if p, ok := f.Geometry.(orb.Point); ok && name != "" {
			if readings[name] == nil {
				names = append(names, name)
			}
			readings[name] = append(readings[name], geojson.Feature{Geometry: p, Properties: f.Properties, Place: f.Place})
		}
		for _, path := range paths(f.Geometry) {
			byName[name] = append(byName[name], len(lines))
			lines = append(lines, newLine(o, f.Properties, name, "record", path, len(lines)))
		}
	}
	var findings []record.Finding
	for _, name := range names {
		if recorded := byName[name]; len(recorded) > 0 {
			if lost := attach(lines, recorded, readings[name], o); len(lost) > 0 {
				say := words.Say("finding.not_along", "n", len(lost), "which", record.Several(lost),
					"line", record.Quote(name), "far", record.LengthsIn(units)(maxJoin))
				findings = append(findings, record.NewFinding("off line", record.Warning, o.File, 0, say))
			}
			continue
		}
		ordered, how := order(readings[name])
		say := words.Say("finding.order", "line", record.Quote(name), "n", len(ordered), "how", how)
		findings = append(findings, record.NewFinding("line", record.Note, o.File, 0, say))
		lines = append(lines, throughReadings(o, name, ordered, len(lines)))
	}
	return lines, findings
}

// throughReadings makes the line through readings in their order.
func throughReadings(o record.Overlay, name string, readings []geojson.Feature, n int) Line {
	path := make(orb.LineString, 0, len(readings))
	for _, f := range readings {
		path = append(path, f.Geometry.(orb.Point))
	}
	l := newLine(o, readings[0].Properties, name, basisReadings, path, n)
	l.DepthM, l.DepthDoubtM, l.AccuracyM = nil, nil, worstAccuracy(readings, o)
	l.readState(readings, o)
	for i, f := range readings {
		l.Stations = append(l.Stations, newStation(f, l.at[i], 0, o))
	}
	return l
}

func newLine(o record.Overlay, p map[string]any, name, basis string, path orb.LineString, n int) Line {
	l := Line{
		ID: fmt.Sprintf("%s/%d", o.ID, n+1), Overlay: o.ID, Utility: o.Kind.Code, Name: name, Basis: basis, Path: path,
		QualityLevel: o.LevelOf(p), Recorded: o.DateOf(p),
		Owner: cmp.Or(record.Text(p, "owner"), o.Owner), Size: record.Text(p, "size"), DepthOf: record.Text(p, "depth_of"),
		DepthM: record.Number(p, "depth_m"), DepthDoubtM: doubtOf(p), AccuracyM: o.AccuracyOf(p), Stations: []Station{},
	}
	if basis != basisReadings { // the label of a reading is of no line
		l.Label = record.Text(p, "label")
	}
	if d, err := measure.ParseWidth(l.Size); err == nil {
		half := d.Meters() / 2
		l.HalfWidthM = &half
	}
	l.State, l.Status = o.StateOf(p)
	l.measure()
	l.LengthM = l.at[len(path)-1]
	return l
}

// measure finds the station of each position.
func (l *Line) measure() {
	l.at = make([]float64, len(l.Path))
	for i := 1; i < len(l.Path); i++ {
		l.at[i] = l.at[i-1] + geodesic.Distance(l.Path[i-1], l.Path[i])
	}
}

// order puts readings in the order of their numbers, else of their times, else
// of the file.
func order(list []geojson.Feature) ([]geojson.Feature, string) {
	list = slices.Clone(list)
	key := func(name string) bool {
		return !slices.ContainsFunc(list, func(f geojson.Feature) bool { return f.Properties[name] == nil || f.Properties[name] == "" })
	}
	switch {
	case key("order"):
		slices.SortStableFunc(list, func(a, b geojson.Feature) int {
			return cmp.Compare(orZero(record.Number(a.Properties, "order")), orZero(record.Number(b.Properties, "order")))
		})
		return list, words.Say("finding.order_numbers")
	case key("date") && sortable(list):
		slices.SortStableFunc(list, func(a, b geojson.Feature) int {
			return cmp.Compare(record.Text(a.Properties, "date"), record.Text(b.Properties, "date"))
		})
		return list, words.Say("finding.order_times")
	}
	return list, words.Say("finding.order_file")
}

// sortable reports whether all times are written year first and equally long, so
// that their texts sort as the times do.
func sortable(list []geojson.Feature) bool {
	long := len(record.Text(list[0].Properties, "date"))
	for _, f := range list {
		s := record.Text(f.Properties, "date")
		if len(s) != long || long < 16 || s[4] != '-' || s[7] != '-' ||
			s[long-1] != record.Text(list[0].Properties, "date")[long-1] {
			return false
		}
	}
	return true
}

// Nearest gives the station of the place on the line that is nearest to p, and
// how far p is from it, in meters.
func (l Line) Nearest(p orb.Point) (at, off float64) {
	f := geodesic.At(p)
	off = math.Inf(1)
	for i := 1; i < len(l.Path); i++ {
		if t, d := nearestOnEdge(orb.Point{}, f.Meters(l.Path[i-1]), f.Meters(l.Path[i])); d < off {
			off, at = d, l.stationOn(i, t)
		}
	}
	return at, off
}

// At gives the place at a station in meters, kept between the ends.
func (l Line) At(station float64) orb.Point {
	i, found := slices.BinarySearch(l.at, station)
	if found || i == 0 || i == len(l.at) {
		return l.Path[min(i, len(l.at)-1)]
	}
	t := (station - l.at[i-1]) / (l.at[i] - l.at[i-1])
	a, b := l.Path[i-1], l.Path[i]
	return orb.Point{a[0] + t*(b[0]-a[0]), a[1] + t*(b[1]-a[1])}
}

// worstAccuracy is the largest accuracy of readings, else that of their record. A reading
// without one takes nothing from it: no accuracy at all would narrow the zone.
func worstAccuracy(list []geojson.Feature, o record.Overlay) (far *float64) {
	for _, f := range list {
		far = larger(far, record.Number(f.Properties, "accuracy_m"))
	}
	if far == nil {
		return o.AccuracyOf(nil)
	}
	return far
}

func paths(g orb.Geometry) (all []orb.LineString) {
	for part := range geojson.Parts(g) {
		if l, ok := part.(orb.LineString); ok && len(l) > 1 {
			all = append(all, l)
		}
	}
	return all
}

func linesByID(lines []Line) map[string]Line {
	byID := make(map[string]Line, len(lines))
	for _, l := range lines {
		byID[l.ID] = l
	}
	return byID
}

func orZero(v *float64) float64 {
	if v == nil {
		return 0
	}
	return *v
}

// Title is what a line is called by people; "" when the record says nothing.
func (l Line) Title() string { return cmp.Or(l.Name, l.Label) }

func (l Line) nameOrID() string { return cmp.Or(l.Title(), l.ID) }

// between is the part of a line between two stations.
func (l Line) between(from, to float64) orb.LineString {
	part := orb.LineString{l.At(from)}
	for i, at := range l.at {
		if at > from && at < to {
			part = append(part, l.Path[i])
		}
	}
	return append(part, l.At(to))
}

// StateText is the state of a line as written after its name; "" where it is not
// stated, or the line is in service.
func (l Line) StateText() string { return l.State.Text(l.Status) }

// readState is the state of a line through readings: what all of them state, or
// not understood, without words, where they differ.
func (l *Line) readState(readings []geojson.Feature, o record.Overlay) {
	l.State, l.Status = o.StateOf(readings[0].Properties)
	for _, f := range readings[1:] {
		if s, _ := o.StateOf(f.Properties); s != l.State {
			l.State, l.Status = record.NotRead, ""
			return
		}
	}
}
