package record

import (
	"cmp"
	"fmt"
	"math"
	"strings"
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
// in metres; nil where neither states one.
func (o Overlay) AccuracyOf(p map[string]any) *float64 {
	if own := Number(p, "accuracy_m"); own != nil || o.Accuracy == nil {
		return own
	}
	m := o.Accuracy.Metres()
	return &m
}
