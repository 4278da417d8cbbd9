package overlay

import (
	"strings"
	"testing"

	"github.com/paulmach/orb"
)

// Lines in one trench are told of though they cross nowhere: on the same
// places, an inch beside, slightly askew; by hand, 40 m is 131 ft.
func TestBeside(t *testing.T) {
	straight := orb.LineString{at(0, 0), at(40, 0)}
	for name, c := range map[string]struct {
		a, b orb.LineString
		rule float64
		says string // "" = nothing
	}{
		"on the same places":    {straight, straight, 0, "within reach of one another over 131 ft"},
		"turned round":          {straight, orb.LineString{at(40, 0), at(0, 0)}, 0, "over 131 ft"},
		"an inch beside":        {straight, orb.LineString{at(0, 0.0254), at(40, 0.0254)}, 0, "the least distance recorded is 1 in"},
		"0.9 m beside":          {straight, orb.LineString{at(-5, 0.9), at(60, 0.9)}, 0, "over 131 ft"},
		"1.1 m beside, no rule": {straight, orb.LineString{at(0, 1.1), at(40, 1.1)}, 0, ""},
		"1.1 m beside, a rule":  {straight, orb.LineString{at(0, 1.1), at(40, 1.1)}, 0.6, "over 131 ft"},
		"askew":                 {straight, orb.LineString{at(0, -2), at(40, 2)}, 0, "over 65.6 ft"},
		"square":                {straight, orb.LineString{at(20, -20), at(20, 20)}, 0, ""},
		"far":                   {straight, orb.LineString{at(0, 30), at(40, 30)}, 0, ""},
		"one after the other":   {straight, orb.LineString{at(40, 0), at(80, 0)}, 0, ""},
		"many short edges":      {straight, orb.LineString{at(0, 0.2), at(10, 0.3), at(20, 0.2), at(30, 0.3), at(40, 0.2)}, 0, "over 131 ft"},
	} {
		k := Compute([]Overlay{record(t, "g", "gas", lineOf(nil, c.a...)), record(t, "e", "electric", lineOf(nil, c.b...))}, square(100), Options{EachSide: c.rule})
		got := ""
		for _, f := range k.Findings {
			if f.Kind == "beside" {
				got += f.Detail + "\n"
			}
		}
		if (c.says == "") != (got == "") || !strings.Contains(got, c.says) || strings.Count(got, "\n") > 1 {
			t.Errorf("%s: %q", name, got)
		}
	}
}
