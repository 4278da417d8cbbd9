package brief

import (
	"math/rand/v2"
	"testing"
	"time"

	"github.com/paulmach/orb"

	"groundsheet/pack"
)

// TestStripsOfStrangeRoutes: a route that no crew walks ends in strips or in none,
// and soon.
func TestStripsOfStrangeRoutes(t *testing.T) {
	r := rand.New(rand.NewPCG(5, 6))
	scribble := make(orb.LineString, 50_000)
	for i := range scribble {
		scribble[i] = from(100*r.Float64(), 100*r.Float64())
	}
	there := orb.LineString{from(0, 0), from(300, 0), from(0, 0), from(300, 0)}
	for name, routes := range map[string][]pack.Route{
		"a scribble":         {{Line: scribble, Width: 10}},
		"there and back":     {{Line: there, Width: 10}},
		"one place":          {{Line: orb.LineString{middle, middle}, Width: 10}},
		"wider than earth":   {{Line: there, Width: 1e9}},
		"round the earth":    {{Line: orb.LineString{{-180, 0}, {0, 1}, {180, 0}}, Width: 10}},
		"to the pole":        {{Line: orb.LineString{{0, 89}, {0, 90}, {90, 90}}, Width: 10}},
		"a step of nothing":  {{Line: orb.LineString{middle, {middle[0], middle[1] + 1e-14}, from(100, 0)}, Width: 10}},
		"a hundred of them":  slicesOf(100, pack.Route{Line: there[:2], Width: 10}),
		"short beyond sight": {{Line: orb.LineString{middle, from(1e-4, 0)}, Width: 10}},
	} {
		began := time.Now()
		s := packData{about: pack.About{Units: "us", MarginM: 10}, routes: newCenterlines(routes)}
		p, ok := s.chooseStrips(wide)
		for _, one := range p.strips {
			if at := one.toPaper(one.of.placeAt(one.from)); !one.shows(at) {
				t.Errorf("%s: strip %d begins at %v", name, one.number, at)
			}
		}
		if took := time.Since(began); took > 3*time.Minute || ok && (len(p.strips) > mostSheets || len(p.strips) == 0) {
			t.Errorf("%s: %d strips in %v", name, len(p.strips), took)
		} else {
			t.Logf("%s: %v, %d strips at 1:%g in %v", name, ok, len(p.strips), p.scale, took)
		}
	}
}

func slicesOf(n int, r pack.Route) (all []pack.Route) {
	for range n {
		all = append(all, r)
	}
	return all
}
