package record

import (
	"cmp"
	"fmt"
	"math"
	"path"
	"regexp"
	"strings"

	"github.com/paulmach/orb"

	"groundsheet/tiles/geojson"
	"groundsheet/tiles/words"
)

// Text is a property as text without blanks around it; "" where it is missing.
func Text(p map[string]any, name string) string {
	switch v := p[name].(type) {
	case string:
		return strings.TrimSpace(v)
	case nil:
		return ""
	default:
		return fmt.Sprint(v)
	}
}

// Number is a property that is a finite number, else nil.
func Number(p map[string]any, name string) *float64 {
	if v, ok := p[name].(float64); ok && !math.IsNaN(v) && !math.IsInf(v, 0) {
		return &v
	}
	return nil
}

// LevelOf is the quality level stated of a feature, else of its record.
func (o Overlay) LevelOf(p map[string]any) string {
	return cmp.Or(Text(p, "quality_level"), o.QualityLevel)
}

// DateOf is the date stated of a feature, else of its record.
func (o Overlay) DateOf(p map[string]any) string { return cmp.Or(Text(p, "date"), o.Recorded) }

// AccuracyOf is the horizontal accuracy stated of a feature, else of its record,
// in meters; nil where neither states one.
func (o Overlay) AccuracyOf(p map[string]any) *float64 {
	if own := Number(p, "accuracy_m"); own != nil || o.Accuracy == nil {
		return own
	}
	m := o.Accuracy.Meters()
	return &m
}

// TestHole is the kind of a point where the line was exposed and measured. A test
// hole is a fact of one place: its depth applies to no other.
const TestHole = "test hole"

// testHoleWords are the words of records for a test hole, in lower case (common
// practice, no source).
var testHoleWords = map[string]bool{"test hole": true, "testhole": true, "pothole": true, "pot hole": true,
	"daylight hole": true}

// IsTestHole reports whether a feature is a test hole: a point that the record
// calls so, as its kind or its type, or one of quality level A with a depth and
// without a locator's signal. A depth that a locator read is not an exposed one,
// whatever level its record claims.
func (o Overlay) IsTestHole(f geojson.Feature) bool {
	switch f.Geometry.(type) {
	case orb.Point, orb.MultiPoint:
	default:
		return false
	}
	p := f.Properties
	if testHoleWords[plainWords(Text(p, "kind"))] || testHoleWords[plainWords(Text(p, "type"))] {
		return true
	}
	exposed := strings.EqualFold(strings.TrimSpace(o.LevelOf(p)), LevelA)
	return exposed && Number(p, "depth_m") != nil && Text(p, "current_ma") == "" && Text(p, "frequency_hz") == ""
}

// annotate writes what the words for state and kind are understood to mean into
// the properties of a feature, and takes the folders off the name of a photo.
func (o Overlay) annotate(f geojson.Feature) {
	delete(f.Properties, StateProperty) // the file's own would be believed
	delete(f.Properties, KindProperty)
	if state, _ := o.StateOf(f.Properties); state != "" {
		f.Properties[StateProperty] = string(state)
	}
	if o.IsTestHole(f) {
		f.Properties[KindProperty] = TestHole
	}
	if photo := Text(f.Properties, "photo"); photo != "" {
		f.Properties["photo"] = path.Base(strings.ReplaceAll(photo, `\`, "/"))
	}
}

// LevelA is the quality level of what was exposed and measured: a fact of one place.
const LevelA = "A"

// levels are the ways of writing a quality level of ASCE 38: "B", "b", "QL-B",
// "QLB", "Level B", "quality level b".
var levels = regexp.MustCompile(`(?i)^(?:(?:quality[\s_-]*level|level|ql)[\s_:-]*)?([a-d])$`)

// Level reads a quality level: "A" to "D"; with ok false it is none of these and
// is returned as stated.
func Level(stated string) (level string, ok bool) {
	stated = strings.TrimSpace(stated)
	if m := levels.FindStringSubmatch(stated); m != nil {
		return strings.ToUpper(m[1]), true
	}
	return stated, false
}

// unreadLevels reports the stated quality levels that are none of A to D.
func unreadLevels(o Overlay) []Finding {
	unread := tally(o, func(p map[string]any) (string, bool) {
		stated := o.LevelOf(p)
		_, ok := Level(stated)
		return Quote(stated), !ok && stated != ""
	})
	if len(unread) == 0 {
		return nil
	}
	n, levels := 0, []string{}
	for _, c := range unread {
		n, levels = n+c.n, append(levels, c.text)
	}
	return []Finding{{"quality level", Warning, o.File, 0, words.Say("level.unread", "n", n, "levels", Several(levels))}}
}

// flows are the words that state which way a line flows, by the order of its
// positions; the map page reads the same.
var flows = regexp.MustCompile(`(?i)^(with|against)( the)?( line)?$`)

// unreadFlows reports stated flows that are not understood: no direction is made
// of them.
func unreadFlows(o Overlay) (all []Finding) {
	unread := tally(o, func(p map[string]any) (string, bool) {
		stated := Text(p, "flow")
		return stated, stated != "" && !flows.MatchString(stated)
	})
	for _, c := range unread[:min(len(unread), mostUnread)] {
		all = append(all, Finding{"flow", Note, o.File, 0, words.Say("state.flow_unread", "n", c.n, "flow", Quote(c.text))})
	}
	return all
}
