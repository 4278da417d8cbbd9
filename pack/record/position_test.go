package record

import (
	"strings"
	"testing"

	"github.com/paulmach/orb"

	"groundsheet/tiles/geojson"
)

// A receiver's digits are not the writer's: round numbers are no coarse record. The frame of
// a base that nobody stated is told as that.
func TestPositionsOfFieldBook(t *testing.T) {
	of := func(kind, from string) Overlay {
		o := Overlay{Meta: Meta{File: "found.geojson"}}
		for i := range 3 {
			o.Features = append(o.Features, geojson.Feature{Geometry: orb.Point{-105, 40 + float64(i)/10_000},
				Properties: map[string]any{"position_from": from, "position_kind": kind}})
		}
		return o
	}
	told := func(o Overlay) (all string) {
		for _, f := range CheckSanity(o, orb.Bound{Min: orb.Point{-105.001, 39.999}, Max: orb.Point{-104.999, 40.001}}, SanityOptions{}) {
			all += f.Kind + ": " + f.Text() + "\n"
		}
		return all
	}
	if got := told(of("rtk-fixed", "receiver")); strings.Contains(got, "coarse") || !strings.Contains(got, "3 of 3 positions were corrected by a base whose datum is not stated") {
		t.Error(got)
	}
	if got := told(of("", "typed")); !strings.Contains(got, "coarse") || strings.Contains(got, "base") || !strings.Contains(got, "the datum is not stated") {
		t.Error(got)
	}
	o := of("autonomous", "receiver")
	o.Datum = "WGS 84"
	if got := told(o); got != "" {
		t.Error(got)
	}
}
