package record

import (
	"math"
	"reflect"
	"testing"
)

// States differ from one another, from every utility's ticks and from a line in
// service by more than color; what is not understood looks like one that is there.
func TestStatesAreToldApart(t *testing.T) {
	looks := StateSymbologies()
	if len(looks) != 3 {
		t.Fatalf("%d looks", len(looks))
	}
	for i, a := range looks {
		if a.Word == "" || (len(a.Strokes) == 0) != (a.Every == 0) || len(a.Strokes) == 0 && !a.Hollow {
			t.Errorf("%s is not told apart: %+v", a.State, a)
		}
		for _, b := range looks[:i] {
			if reflect.DeepEqual(a.Strokes, b.Strokes) && a.Hollow == b.Hollow {
				t.Errorf("%s looks like %s", a.State, b.State)
			}
		}
		for _, u := range Utilities() {
			if ticks, _, _ := pattern(u.Code); len(ticks) > 0 && reflect.DeepEqual(ticks, a.Strokes) {
				t.Errorf("%s has the ticks of %s", a.State, u.Code)
			}
		}
	}
	for _, s := range []State{"", InService, NotRead, "gone for good"} {
		if l := StateSymbologyOf(s); l.Word != "" || len(l.Strokes) > 0 || l.Hollow {
			t.Errorf("%q: %+v", s, l)
		}
	}
}

// A stroke on both sides of the line, turned half round, is the same stroke.
func TestStrokesHaveNoDirection(t *testing.T) {
	for _, l := range StateSymbologies() {
		for _, s := range l.Strokes {
			if !s.Left || !s.Right || s.At != 0 || s.Length <= 0 || math.Abs(s.Lean) < 40 {
				t.Errorf("%s: %+v", l.State, s)
			}
		}
	}
}

// The hollow of a proposed line is seen: every casing stands off its color, by
// the contrast of WCAG 2.2 for things that are no text.
func TestHollowIsSeen(t *testing.T) {
	for _, u := range Utilities() {
		if c := contrast(t, u.Colour, u.Casing); c < 3 {
			t.Errorf("%s: %.1f", u.Code, c)
		}
	}
}
