//go:build outside

package area

import (
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"testing"
	"time"

	"github.com/paulmach/orb"

	"groundsheet/tiles/fault"
	"groundsheet/tiles/geojson"
)

// counties reads every county outline of npm us-atlas 3.0.1 (US Census Bureau,
// public domain). The coordinates are rounded to a grid, so that some outlines
// run along or cross themselves or have rings without area.
func counties(t *testing.T) []geojson.Feature {
	t.Helper()
	out := filepath.Join(t.TempDir(), "all.geojson")
	node(t, nil, nil, "county.mjs", "all", out)
	text, err := os.ReadFile(out)
	if err != nil {
		t.Fatal(err)
	}
	features, err := geojson.Read(text)
	if err != nil {
		t.Fatal(err)
	}
	if len(features) != 3231 {
		t.Fatalf("%d counties, want 3231", len(features))
	}
	return features
}

func multi(g orb.Geometry) orb.MultiPolygon {
	if polygon, ok := g.(orb.Polygon); ok {
		return orb.MultiPolygon{polygon}
	}
	return g.(orb.MultiPolygon)
}

// TestOutsideCounties covers every county at zoom 12, valid or not, and holds
// it against the even-odd rule and against orb.
func TestOutsideCounties(t *testing.T) {
	refused := map[*fault.Kind]int{}
	byOrb := &tally{t, "orb", map[string]int{}, 0}
	panics, spikes, missing, extra := 0, 0, 0, 0
	for _, f := range counties(t) {
		s := sample{fmt.Sprint(f.ID, " ", f.Properties["name"]), multi(f.Geometry), 12}
		a, err := Polygons([]geojson.Feature{f})
		if err != nil {
			var bad *fault.Fault
			if !errors.As(err, &bad) {
				t.Fatal(err)
			}
			refused[bad.Kind]++
			a = Area{Polygons: s.MultiPolygon}
		}
		c := cover(a, s.zoom, 0)
		inside := evenOddTiles(worldRings(s.MultiPolygon, s.zoom), s.zoom)
		for id, part := range inside {
			if part > 8e-6 && !c.Has(id) {
				missing++
				t.Errorf("%s: the cover lacks %v, %g of it lies inside", s.name, id, part)
			}
		}
		for id := range c.All() {
			switch {
			case inside[id] > 0:
			case err != nil:
				spikes++
			default:
				extra++
				t.Errorf("%s: nothing of %v lies inside", s.name, id)
			}
		}
		set, _, problem := orbCover(s)
		if problem != "" {
			panics++
			if err == nil {
				t.Errorf("%s: orb fails with %q on a shape we take", s.name, problem)
			}
			continue
		}
		byOrb.compare(s, c, set)
	}
	byOrb.log()
	t.Logf("refused: %v; orb panics on %d; %d tiles of edges without area; %d missing, %d extra", refused, panics, spikes, missing, extra)
	if n := refused[RuleFlat] + refused[RuleSelfCrossing]; n != 40 || len(refused) != 2 {
		t.Errorf("refused: %v", refused)
	}
}

// TestOutsideDeep holds some counties against orb at zoom 18.
func TestOutsideDeep(t *testing.T) {
	byOrb := &tally{t, "orb", map[string]int{}, 0}
	for _, f := range counties(t) {
		switch f.ID {
		case "06071", // San Bernardino, California: one of the largest
			"25001", // Barnstable, Massachusetts: a cape with islands
			"53055", // San Juan, Washington: islands alone
			"51059": // Fairfax, Virginia: round a city, which is a hole
		default:
			continue
		}
		s := sample{fmt.Sprint(f.ID, " ", f.Properties["name"]), multi(f.Geometry), 18}
		a, err := Polygons([]geojson.Feature{f})
		if err != nil {
			t.Fatal(err)
		}
		c := cover(a, s.zoom, 0)
		set, _, problem := orbCover(s)
		if problem != "" {
			t.Fatal(problem)
		}
		t.Logf("%s: %d tiles, orb %d", s.name, c.Count(), len(set))
		byOrb.compare(s, c, set)
	}
	byOrb.log()
	if byOrb.same < 1_000_000 {
		t.Error("too few tiles were compared")
	}
}

// TestOutsideLargest counts the tiles of the county that has most, at zoom 22,
// where nothing that lists tiles could.
func TestOutsideLargest(t *testing.T) {
	var most uint64
	var largest sample
	all := counties(t)
	for _, f := range all {
		s := sample{fmt.Sprint(f.ID, " ", f.Properties["name"]), multi(f.Geometry), 12}
		if n := cover(Area{Polygons: s.MultiPolygon}, s.zoom, 0).Count(); n > most {
			most, largest = n, s
		}
	}
	began := time.Now()
	c := cover(Area{Polygons: largest.MultiPolygon}, 22, 0)
	took, n := time.Since(began), c.Count()
	t.Logf("%s: %d tiles in %d runs counted in %v", largest.name, n, len(c.Spans()), took)
	// A tile of zoom 12 is 2^20 of zoom 22; those on the border are only partly in.
	if n < (most*9/10)<<20 || n > most<<20 {
		t.Errorf("%d tiles at zoom 22, %d at zoom 12", n, most)
	}
	if took > 5*time.Second {
		t.Errorf("counting took %v", took)
	}
}
