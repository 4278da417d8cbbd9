package intake

import (
	"fmt"
	"path/filepath"
	"slices"

	"github.com/paulmach/orb"

	"groundsheet/pack/record"
	"groundsheet/tiles/geojson"
	"groundsheet/tiles/vector"
	"groundsheet/tiles/words"
)

// features proposes how a file of shapes is read.
func (p *proposer) features() {
	p.byFields = true
	if !p.layer() {
		return
	}
	features, info, err := p.readFeatures()
	if err != nil && p.askSystem(err) {
		if p.out.meta.EPSG == 0 {
			return
		}
		features, info, err = p.readFeatures()
	} else if p.out.meta.EPSG != 0 {
		p.systemItem(nil, words.Say("intake.epsg_none"))
	}
	if err != nil {
		p.fail(err)
		return
	}
	p.out.Format, p.out.Notes, p.out.Rows = info.Format, append(p.out.Notes, info.Notes...), len(features)
	p.fields(features)
	p.firstFeatures(features)
	values := textsOf(features)
	p.meanings()
	p.utility(values, info.Layers)
	p.lengths(values)
	switch {
	case p.out.meta.EPSG != 0:
		p.systemDatum()
	case impliesDatum(info):
		p.impliedDatum(info.Datum)
	case info.Datum == "":
		p.datum("", words.Say("intake.datum_none"))
	default:
		p.datum(info.Datum, words.Say("intake.datum_file"))
	}
	p.rest()
	p.out.Shapes = slices.DeleteFunc(slices.Clone(features), func(f geojson.Feature) bool { return f.Geometry == nil })
	p.measure()
	if !p.lacksUnit() {
		p.readAs(features)
	}
}

// readFeatures reads the shapes as the job will: a GeoJSON may be empty.
func (p *proposer) readFeatures() ([]geojson.Feature, vector.Info, error) {
	if filepath.Ext(p.out.meta.File) == ".geojson" {
		features, err := geojson.Read(p.file.Data)
		return features, vector.Info{Format: "GeoJSON", Datum: "WGS 84"}, err
	}
	return vector.Read(p.file, vector.Anything)
}

// mostFields bounds the fields that are listed.
const mostFields = 200

// fields lists the fields of all features, by the order of their names.
func (p *proposer) fields(features []geojson.Feature) {
	samples := map[string][]string{}
	var names []string
	for _, f := range features {
		for name := range f.Properties {
			if _, seen := samples[name]; !seen && len(names) < mostFields {
				samples[name], names = []string{}, append(names, name)
			}
			if text := record.Text(f.Properties, name); text != "" && len(samples[name]) < 3 && samples[name] != nil {
				samples[name] = append(samples[name], text)
			}
		}
	}
	slices.Sort(names)
	for _, name := range names {
		p.out.Columns = append(p.out.Columns, Column{Name: name, Samples: samples[name]})
	}
}

func (p *proposer) firstFeatures(features []geojson.Feature) {
	for i, f := range features[:min(len(features), firstRows)] {
		row := Row{Line: i + 1}
		for _, c := range p.out.Columns {
			row.Cells = append(row.Cells, record.Text(f.Properties, c.Name))
		}
		p.out.First = append(p.out.First, row)
	}
}

// readAs reads the features as they are proposed. All that cannot be read are named:
// a file of which some cannot is not taken in.
func (p *proposer) readAs(features []geojson.Feature) {
	unread, err := record.Unread(features, p.provisional())
	switch {
	case err != nil:
		p.fail(err)
		return
	case len(unread) > 0:
		p.out.Unread = unread
		p.fail(fmt.Errorf("%s", words.Say("intake.features_unread", "n", len(unread))))
		return
	}
	o, _, err := Read(p.file, p.provisional(), "1")
	if err != nil {
		p.fail(err)
		return
	}
	p.take(o)
}

// provisional is the record as it would be read now. Where the utility is not known
// yet, it is read as one whose code makes no difference to the reading.
func (p *proposer) provisional() record.Meta {
	m := p.out.meta
	m.LeaveOut = nil
	if m.Utility == "" {
		m.Utility = "survey"
	}
	return m
}

// take keeps what a reading has found.
func (p *proposer) take(o record.Overlay) {
	p.out.Shapes = o.Features
	p.measure()
	opts := record.SanityOptions{Far: nearby, Year: float64(p.site.Now.UTC().Year()), Units: p.site.Units}
	for _, f := range slices.Concat(o.Findings, record.CheckSanity(o, p.site.Ground, opts)) {
		if f.Kind != "row" && (f.Kind != "type" || p.out.Utility != "") {
			f.Where = p.out.File
			p.out.Findings = append(p.out.Findings, f)
		}
	}
	if o.Unlocated > 0 {
		p.out.Notes = append(p.out.Notes, words.Say("intake.unlocated", "n", o.Unlocated))
	}
}

// Distance is where the records lie as seen from the dig area.
type Distance struct {
	Meters float64 `json:"meters"` // of the nearest; 0 in the box round the dig area, -1 of none
	Inside int     `json:"inside"` // in or across the box round the dig area
	Near   int     `json:"near"`   // within 5 km of it
	Of     int     `json:"of"`
	Text   string  `json:"text"`
}

// measure says how far from the job the shapes lie. Far away is asked about.
func (p *proposer) measure() {
	d := Distance{Meters: -1, Of: len(p.out.Shapes)}
	for _, f := range p.out.Shapes {
		off := p.site.boxDistance(f.Geometry.Bound())
		if d.Meters < 0 || off < d.Meters {
			d.Meters = off
		}
		if off <= nearby {
			d.Near++
		}
		if off == 0 {
			d.Inside++
		}
	}
	in := record.LengthsIn(p.site.Units)
	switch {
	case d.Of == 0:
		d.Text = words.Say("intake.distance_none")
	case d.Inside > 0:
		d.Text = words.Say("intake.distance_inside", "n", d.Inside, "of", d.Of)
	default:
		d.Text = words.Say("intake.distance_off", "off", in(d.Meters))
	}
	p.out.Distance = d
	if d.Meters > nearby && !slices.ContainsFunc(p.out.Items, func(i Item) bool { return i.Key == "far" }) {
		p.add(Item{Key: "far", Name: words.Say("intake.far"), Sure: Unknown, Must: true, Why: words.Say("intake.far_why", "off", in(d.Meters)),
			Choices: []Choice{{"yes", words.Say("intake.far_yes")}}})
	}
}

// boxDistance is about the meters between a box and the dig area; 0 where they meet.
func (s Site) boxDistance(b orb.Bound) float64 {
	middle := s.Ground.Center()
	nearest := orb.Point{min(max(middle[0], b.Min[0]), b.Max[0]), min(max(middle[1], b.Min[1]), b.Max[1])}
	if b.Intersects(s.Ground) {
		return 0
	}
	return s.distanceOf(nearest)
}

// pointOf is what can be drawn of a row of which only the place is read.
func pointOf(row vector.Row) geojson.Feature {
	return geojson.Feature{Geometry: row.Point, Properties: map[string]any{}, Place: fmt.Sprintf("line %d", row.Line)}
}
