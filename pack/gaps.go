package pack

import (
	"slices"

	"github.com/paulmach/orb"

	"groundsheet/pack/record"
	"groundsheet/pack/record/derive"
	"groundsheet/tiles/measure"
)

// nearby is how far from the dig area a feature counts as recorded there at
// least, in metres: 50 ft, the longest distance between an operator's marks in
// CGA's uniform marking.
const nearby = 50 * measure.Foot

// Reach is how far from the dig area a record still tells of it, in metres:
// 50 ft, or the margin of the job where that is more.
func Reach(margin float64) float64 { return max(nearby, margin) }

// Gaps finds the notified utilities of which nothing is recorded on or within
// [Reach] of the dig area. Missing holds them all; nothingHere holds those of
// them that have a record in the pack, which shows nothing there.
func Gaps(expected []string, overlays []record.Overlay, area orb.MultiPolygon, margin float64) (missing, nothingHere []string) {
	missing, nothingHere = []string{}, []string{}
	for _, code := range expected {
		held := false
		shows := slices.ContainsFunc(overlays, func(o record.Overlay) bool {
			held = held || o.Kind.Code == code
			return o.Kind.Code == code && derive.ShowsNear(o, area, Reach(margin))
		})
		if shows {
			continue
		}
		missing = append(missing, code)
		if held {
			nothingHere = append(nothingHere, code)
		}
	}
	return missing, nothingHere
}

// OnlyNear finds the notified utilities whose records show something near the
// dig area and nothing in it, as drawn and as far off as they state.
func OnlyNear(expected, missing []string, overlays []record.Overlay, area orb.MultiPolygon) (only []string) {
	for _, code := range expected {
		inside := slices.ContainsFunc(overlays, func(o record.Overlay) bool { return o.Kind.Code == code && derive.ShowsNear(o, area, 0) })
		if !inside && !slices.Contains(missing, code) {
			only = append(only, code)
		}
	}
	return only
}
