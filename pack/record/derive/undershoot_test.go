package derive

import (
	"math"
	"math/rand/v2"
	"strings"
	"testing"

	"github.com/paulmach/orb"

	"groundsheet/pack/record"
)

func endsTold(overlays ...record.Overlay) (all []string) {
	for _, f := range From(overlays, square(100), Options{}).Findings {
		if f.Kind == "end" {
			all = append(all, f.Detail)
		}
	}
	return all
}

// Ends that stop short, by hand: 0.2 m is 7.9 in.
func TestShortEnds(t *testing.T) {
	main := lineOf(nil, at(-20, 0), at(20, 0))
	g := func(f ...orb.Point) record.Overlay { return recordOf(t, "g", "gas", lineOf(nil, f...)) }
	w := recordOf(t, "w", "water", main)
	for name, c := range map[string]struct {
		records []record.Overlay
		says    []string
	}{
		"at its side":            {[]record.Overlay{w, g(at(3, 0.2), at(3, 9))}, []string{"gas ends (station 0 in) 7.87 in from water (station 75.5 ft) and does not cross it: it may be joined"}},
		"it crosses":             {[]record.Overlay{w, g(at(3, -5), at(3, 9))}, nil},
		"it goes on a little":    {[]record.Overlay{w, g(at(3, -0.2), at(3, 9))}, nil},
		"it crosses far away":    {[]record.Overlay{w, g(at(3, 0.2), at(3, 9), at(9, 9), at(9, -9))}, []string{"7.87 in from water"}},
		"it runs beside":         {[]record.Overlay{w, g(at(3, 0.2), at(9, 0.2))}, nil},
		"both begin there":       {[]record.Overlay{w, g(at(-20, 0.2), at(20, 0.2))}, nil},
		"too far":                {[]record.Overlay{w, g(at(3, 1.1), at(3, 9))}, nil},
		"it touches, as a tee":   {[]record.Overlay{recordOf(t, "g", "gas", main, lineOf(nil, at(3, 0), at(3, 9)))}, nil},
		"two ends, one record":   {[]record.Overlay{recordOf(t, "g", "gas", main, lineOf(nil, at(20.03, 0), at(25, 9)))}, []string{"(station 131 ft) 1.18 in", "drawn with a gap"}},
		"two ends, two records":  {[]record.Overlay{w, g(at(20.3, 0), at(25, 9))}, []string{"11.8 in", "which ends there too: the two may be joined"}},
		"joined, past another":   {[]record.Overlay{w, recordOf(t, "g", "gas", lineOf(nil, at(3, 0.5), at(3, 9)), lineOf(nil, at(3, 0.5), at(9, 9)))}, nil},
		"joined by a gap":        {[]record.Overlay{w, recordOf(t, "g", "gas", lineOf(nil, at(3, 0.5), at(3, 9)), lineOf(nil, at(3.03, 0.5), at(12, 9)))}, []string{"1.18 in", "drawn with a gap"}},
		"joined, a little over":  {[]record.Overlay{w, recordOf(t, "g", "gas", lineOf(nil, at(3, 0.5), at(3, 9)), lineOf(nil, at(2.8, 0.6), at(9, 4)))}, nil},
		"a closed line":          {[]record.Overlay{w, g(at(3, 0.5), at(9, 9), at(3, 9), at(3, 0.5))}, nil},
		"one reading, no line":   {[]record.Overlay{w, recordOf(t, "g", "gas", reading("G", at(3, 0.5), nil))}, nil},
		"it ends on another one": {[]record.Overlay{recordOf(t, "w", "water", lineOf(nil, at(-20, 0), at(3, 0), at(20, 0))), g(at(3, 0), at(3, 9))}, nil},
	} {
		got := strings.Join(endsTold(c.records...), "\n")
		if (got == "") != (len(c.says) == 0) || strings.Contains(got, "\n") {
			t.Errorf("%s: %q", name, got)
		}
		for _, want := range c.says {
			if !strings.Contains(got, want) {
				t.Errorf("%s: %q, want %q", name, got, want)
			}
		}
	}
}

// TestShortEndsAreFoundWithinTheLimit places an end some way off a line or its
// end, at any angle that is not along it.
func TestShortEndsAreFoundWithinTheLimit(t *testing.T) {
	r := rand.New(rand.NewPCG(23, 2026))
	found := 0
	for range 2000 {
		turn := r.Float64() * 2 * math.Pi
		place := func(x, y float64) orb.Point {
			return at(x*math.Cos(turn)-y*math.Sin(turn), x*math.Sin(turn)+y*math.Cos(turn))
		}
		short := 0.01 + r.Float64()*2
		x, y := r.Float64()*20, short
		lean := (40 + r.Float64()*100) * math.Pi / 180
		if r.IntN(3) == 0 { // off its end, and on away from it
			off := r.Float64() * math.Pi / 2
			x, y, lean = 20+short*math.Sin(off), short*math.Cos(off), math.Pi/2-off+r.Float64()-0.5
		}
		line := []orb.Point{place(x, y), place(x+15*math.Cos(lean), y+15*math.Sin(lean))}
		if r.IntN(2) == 0 {
			line[0], line[1] = line[1], line[0]
		}
		both := []record.Overlay{recordOf(t, "w", "water", lineOf(nil, place(0, 0), place(20, 0))), recordOf(t, "g", []string{"gas", "water"}[r.IntN(2)], lineOf(nil, line...))}
		if r.IntN(2) == 0 {
			both[0], both[1] = both[1], both[0]
		}
		if math.Abs(short-maxUndershoot) < 1e-3 {
			continue
		}
		n := len(endsTold(both...)) // an end of the first may lie near the second too
		if (n > 0) != (short < maxUndershoot) {
			t.Fatalf("an end %v m short: %d told", short, n)
		}
		if n > 0 {
			found++
		}
	}
	if found < 500 {
		t.Errorf("only %d were within the limit", found)
	}
}
