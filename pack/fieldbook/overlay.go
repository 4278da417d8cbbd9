package fieldbook

import (
	"maps"
	"slices"

	"groundsheet/pack/record"
	"groundsheet/tiles/geojson"
)

// Located reports whether a mark says where something lies: one that says that nothing was
// found, or that something could not be located, never does.
func (m Mark) Located() bool {
	switch m.Kind() {
	case Reading, Line, Area, TestHole, SurfaceFeature:
		return m.Feature.Geometry != nil
	}
	return false
}

// Overlays gives marks in the shape of records, one overlay for each utility in the order
// of the color code: the leading version of each mark that is located and not struck. What is
// unlocatable is counted in Unlocated; what was looked for and not found is in none.
// Properties have the names of records; "mark" is the ID of the mark.
func Overlays(marks []Mark) []record.Overlay {
	byUtility := map[string]*record.Overlay{}
	runs := map[string]int{} // readings of each run so far
	for _, m := range marks {
		kind, err := record.FindUtility(record.Text(m.Feature.Properties, "utility"))
		if err != nil || m.Struck || !m.Located() && m.Kind() != Unlocatable {
			continue
		}
		o := byUtility[kind.Code]
		if o == nil {
			meta := record.Meta{File: "found-" + kind.Code + ".geojson", Title: "found on site: " + kind.Name, Utility: kind.Code, Datum: "WGS 84"}
			o = &record.Overlay{Meta: meta, ID: "found-" + kind.Code, Kind: kind}
			byUtility[kind.Code] = o
		}
		if !m.Located() {
			o.Unlocated++
			continue
		}
		p := m.properties()
		if line := record.Text(p, "line"); line != "" && m.Kind() == Reading {
			runs[line]++
			p["order"] = float64(runs[line])
		}
		o.Features = append(o.Features, geojson.Feature{Geometry: m.Feature.Geometry, Properties: p, ID: m.ID, Place: "mark " + m.ID[:8]})
	}
	var all []record.Overlay
	for _, u := range record.Utilities() {
		if o := byUtility[u.Code]; o != nil {
			all = append(all, *o)
		}
	}
	return all
}

// renamed are the properties of a mark that have another name in a record.
var renamed = map[string]string{"depth_as_typed": "depth_as_written", "depth_reference": "depth_of"}

// properties are those of the mark under the names of records.
func (m Mark) properties() map[string]any {
	p := maps.Clone(m.Feature.Properties)
	for from, to := range renamed {
		if v, ok := p[from]; ok {
			delete(p, from)
			p[to] = v
		}
	}
	maps.DeleteFunc(p, func(_ string, v any) bool { return v == nil || v == "" })
	position, _ := p["position"].(map[string]any)
	if NotThere(position) {
		delete(p, "accuracy_m")
		position = nil
	}
	for _, name := range []string{"error_m", "stated_m", "spread_m"} { // never better than the worst that is known of it
		if v := record.Number(position, name); v != nil {
			if worst := record.Number(p, "accuracy_m"); worst == nil || *worst < *v {
				p["accuracy_m"] = *v
			}
		}
	}
	if m.Kind() == TestHole {
		p[record.KindProperty] = record.TestHole
	}
	p["mark"], p["who"] = m.ID, m.Written.Text.Who
	p["date"] = m.Written.Text.Written().UTC().Format("2006-01-02T15:04:05Z")
	if len(m.Rivals) > 0 {
		p["rivals"] = float64(len(m.Rivals))
	}
	return p
}

// How old a receiver's position may be, in seconds: people walk on (the project's own choice,
// no source). Beyond FreshFor its age is told beside it; beyond liveFor its error does not
// hold of the place where the mark was made. The page fades the position and draws no circle
// beyond them; a test compares its figures with these.
const (
	FreshFor = 5
	liveFor  = 30
)

// NotThere reports whether the position of a mark came from a receiver and says nothing of
// where the mark was made: a recorded one, an old one or one of unknown age, or one that is
// not from satellites. Its figures stay evidence, and are no accuracy of the mark.
func NotThere(position map[string]any) bool {
	if from := record.Text(position, "from"); from != "receiver" {
		return false
	}
	if position["recorded"] == true || slices.Contains([]string{"estimated", "manual", "simulator", "unknown"}, record.Text(position, "kind")) {
		return true
	}
	_, told := position["age_s"] // phones did not always tell it
	age := record.Number(position, "age_s")
	return told && (age == nil || *age > liveFor)
}

// Struck counts the marks that are struck.
func Struck(marks []Mark) int {
	return len(slices.DeleteFunc(slices.Clone(marks), func(m Mark) bool { return !m.Struck }))
}
