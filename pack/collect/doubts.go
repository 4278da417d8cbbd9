package collect

import (
	"cmp"
	"fmt"
	"maps"
	"math"
	"slices"

	"github.com/paulmach/orb"

	"groundsheet/pack/fieldbook"
	"groundsheet/pack/job"
	"groundsheet/pack/record"
	"groundsheet/pack/record/derive"
	"groundsheet/tiles/geojson"
	"groundsheet/tiles/measure"
	"groundsheet/tiles/words"
)

// Doubt is one thing to look at before a mark is relied on. None of them keeps a mark out.
type Doubt struct {
	Kind   string      `json:"kind"` // "recorded", "not live", "error", "no error stated", "outside", "depth", "two versions", "two texts", "not whole", "nothing beside a reading", "place against record", "depth against record"
	Mark   string      `json:"mark"`
	Also   []string    `json:"also"`  // the other marks of which it holds as well
	Place  *[2]float64 `json:"place"` // latitude and longitude; null = without a place
	Detail string      `json:"detail"`
}

// Depths beyond which a mark is doubtful, in meters: what a crew finds lies under a
// hand's breadth of ground and above 15 ft, as deep as locators commonly read (common
// practice, no source).
const (
	shallowest = 2 * measure.Inch
	deepest    = 15 * measure.Foot
)

// doubter looks for what is doubtful of marks that are new or changed.
type doubter struct {
	limit  float64
	in     func(meters float64) string // a length in the job's units
	margin orb.MultiPolygon
	all    []Doubt

	errorless []fieldbook.Mark // marks that state no error: told together
}

func (c *collecting) doubts(in job.Inputs, all []found, marks []fieldbook.Mark) []Doubt {
	d := &doubter{limit: c.options.Limit.Meters(), in: record.LengthsIn(c.job.Units), margin: in.Ground.Margin, all: []Doubt{}}
	looked := map[string]bool{}
	for _, change := range c.report.Changes {
		looked[change.Mark] = change.What != Struck
	}
	byID := map[string]fieldbook.Mark{}
	for _, m := range marks {
		if looked[m.ID] {
			byID[m.ID] = m
			d.mark(m)
		}
	}
	for _, m := range c.forged(byID) {
		d.add(m, "two texts", words.Say("collect.two_texts", "mark", nameOf(m)))
	}
	d.nothing(marks, func(m fieldbook.Mark) bool { return looked[m.ID] })
	for _, f := range all {
		fresh := f.overlay
		fresh.Features = slices.DeleteFunc(slices.Clone(f.overlay.Features), func(g geojson.Feature) bool { return !looked[record.Text(g.Properties, "mark")] })
		for _, g := range fresh.Features {
			d.feature(byID[record.Text(g.Properties, "mark")], g)
		}
		for _, compared := range derive.Compare(fresh, in.Overlays, c.job.DepthGap.Meters()) {
			d.against(byID[record.Text(fresh.Features[compared.Found].Properties, "mark")], compared)
		}
	}
	d.tellErrorless()
	return d.all
}

// tellErrorless tells of marks that state no error: once for all, because of those that
// were taken at the cross none states one.
func (d *doubter) tellErrorless() {
	if len(d.errorless) == 0 {
		return
	}
	first, more := d.errorless[0], d.errorless[1:]
	say := words.Say("collect.no_error", "mark", nameOf(first))
	if len(more) > 0 {
		say = words.Say("collect.no_errors", "mark", nameOf(first), "n", len(more))
	}
	d.add(first, "no error stated", say)
	for _, m := range more {
		also := &d.all[len(d.all)-1].Also
		*also = append(*also, m.ID)
	}
}

// forged finds the marks of which two books have entries with one ID and different texts: no
// phone makes that by itself.
func (c *collecting) forged(byID map[string]fieldbook.Mark) (all []fieldbook.Mark) {
	texts, told := map[string]string{}, map[string]bool{}
	for _, id := range slices.Sorted(maps.Keys(c.byID)) {
		for _, e := range c.byID[id].entries {
			m, looked := byID[e.Mark]
			text, seen := texts[e.ID]
			if seen && text != string(e.Text) && looked && !told[e.Mark] {
				all, told[e.Mark] = append(all, m), true
			} else if !seen {
				texts[e.ID] = string(e.Text)
			}
		}
	}
	return all
}

func (d *doubter) add(m fieldbook.Mark, kind, say string) {
	d.all = append(d.all, Doubt{Kind: kind, Mark: m.ID, Also: []string{}, Place: placeOf(m), Detail: say})
}

// mark looks at a mark as a whole.
func (d *doubter) mark(m fieldbook.Mark) {
	if m.Kind() == "" {
		d.add(m, "not whole", words.Say("collect.not_whole", "mark", nameOf(m)))
		return
	}
	if len(m.Rivals) > 0 {
		d.add(m, "two versions", words.Say("collect.rivals", "mark", nameOf(m), "n", len(m.Rivals)+1,
			"who", cmp.Or(m.Leading.Text.Who, words.Say("collect.nobody"))))
	}
	if m.Feature.Geometry != nil && !d.inside(m.Feature.Geometry) {
		d.add(m, "outside", words.Say("collect.outside", "mark", nameOf(m)))
	}
}

func (d *doubter) inside(g orb.Geometry) bool {
	for part := range geojson.Parts(g) {
		for _, p := range cornersOf(part) {
			if !derive.Within(d.margin, p) {
				return false
			}
		}
	}
	return true
}

func cornersOf(g orb.Geometry) (all []orb.Point) {
	switch g := g.(type) {
	case orb.Point:
		return []orb.Point{g}
	case orb.LineString:
		return g
	case orb.Polygon:
		for _, ring := range g {
			all = append(all, ring...)
		}
	}
	return all
}

// feature looks at a mark as it is in its overlay.
func (d *doubter) feature(m fieldbook.Mark, f geojson.Feature) {
	off := record.Number(f.Properties, "accuracy_m")
	stated := 0.0
	for _, name := range []string{"position_error_m", "position_stated_m", "position_spread_m"} {
		if v := record.Number(f.Properties, name); v != nil {
			stated = max(stated, *v)
		}
	}
	age := record.Number(f.Properties, "position_age_s")
	switch {
	case f.Properties["position_recorded"] == true:
		d.add(m, "recorded", words.Say("collect.recorded", "mark", nameOf(m)))
	case record.Text(f.Properties, "position_from") == "receiver" && age != nil && *age > fieldbook.FreshFor:
		d.add(m, "not live", words.Say("collect.not_live", "mark", nameOf(m), "age", fmt.Sprintf("%.0f s", *age)))
	case stated > d.limit:
		d.add(m, "error", words.Say("collect.error", "mark", nameOf(m), "off", d.in(stated), "limit", d.in(d.limit)))
	case off == nil:
		d.errorless = append(d.errorless, m)
	}
	switch depth := record.Number(f.Properties, "depth_m"); {
	case depth == nil:
	case *depth > deepest:
		d.add(m, "depth", words.Say("collect.deep", "mark", nameOf(m), "depth", d.in(*depth), "limit", d.in(deepest)))
	case *depth < shallowest:
		d.add(m, "depth", words.Say("collect.shallow", "mark", nameOf(m), "depth", d.in(*depth), "limit", d.in(shallowest)))
	}
}

// against puts old and new beside each other, where they are not within what is stated of
// both.
func (d *doubter) against(m fieldbook.Mark, c derive.Comparison) {
	line := cmp.Or(c.Line.Title(), c.Overlay)
	if c.Place() != derive.Fits && (c.Place() == derive.Differs || c.OffM > d.limit) {
		d.add(m, "place against record", words.Say("collect.place", "mark", nameOf(m), "line", record.Quote(line), "off", d.in(c.OffM),
			"doubt", d.doubt(c.OffDoubtM)))
	}
	if c.Depth() == "" || c.Depth() == derive.Fits || c.Depth() == derive.Unclear && math.Abs(*c.DeeperM) < leastDeeper {
		return
	}
	which := words.Say("collect.deeper", "by", d.in(*c.DeeperM))
	if *c.DeeperM < 0 {
		which = words.Say("collect.shallower", "by", d.in(-*c.DeeperM))
	}
	d.add(m, "depth against record", words.Say("collect.depth", "mark", nameOf(m), "line", record.Quote(line),
		"old", d.in(*c.Old.M), "of", d.partText(c.Old.Of), "when", cmp.Or(c.Old.Recorded, words.Say("collect.no_date")),
		"new", d.in(*c.NewM), "part", d.partText(c.NewOf), "which", which, "doubt", d.doubt(c.DepthDoubt)))
}

// leastDeeper is a difference of depths worth telling where no doubt is stated, in meters
// (the project's own choice, no source).
const leastDeeper = 6 * measure.Inch

func (d *doubter) doubt(m *float64) string {
	if m == nil {
		return words.Say("collect.doubt_unknown")
	}
	return words.Say("collect.doubt", "off", d.in(*m))
}

func (d *doubter) partText(of string) string {
	switch of {
	case derive.Top:
		return words.Say("collect.top")
	case derive.Center:
		return words.Say("collect.center")
	case derive.Bottom:
		return words.Say("collect.bottom")
	}
	return words.Say("collect.part_unknown")
}
