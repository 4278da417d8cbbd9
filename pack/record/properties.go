package record

import (
	"cmp"
	"fmt"
	"math"
	"path"
	"strings"

	"github.com/paulmach/orb"

	"groundsheet/tiles/geojson"
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
var testHoleWords = map[string]bool{"test hole": true, "testhole": true, "pothole": true, "pot hole": true, "daylight hole": true}

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
