package area

import (
	"errors"
	"fmt"
	"math"
	"testing"

	"github.com/paulmach/orb"
	"github.com/paulmach/orb/maptile"
	"github.com/paulmach/orb/maptile/tilecover"

	"groundsheet/tiles"
	"groundsheet/tiles/fault"
	"groundsheet/tiles/geojson"
)

// TestWhereTheLibraryFails: inputs on which the tile cover of orb v0.14.0
// panics or gives tiles that are wrong or do not exist. Polygons refuses them,
// and the cover of an area made by hand comes to an end with tiles that exist.
func TestWhereTheLibraryFails(t *testing.T) {
	inf, nan := math.Inf(1), math.NaN()
	tests := []struct {
		name string
		ring orb.Ring
		zoom int
		// What the library does: "panics", a number of tiles, of which some do
		// not exist, or "" where it does not return and is not asked.
		library string
		rule    *fault.Kind
	}{
		{"no position", orb.Ring{}, 5, "panics", RuleFlat},
		{"one position", orb.Ring{{1, 1}}, 5, "panics", RuleFlat},
		{"one position again and again", orb.Ring{{1, 1}, {1, 1}, {1, 1}, {1, 1}}, 5, "panics", RuleFlat},
		{"west of -180", orb.Ring{{-181, 0}, {-170, 0}, {-170, 10}, {-181, 0}}, 5, "", geojson.RuleLongitude},
		{"east of 180", orb.Ring{{170, 1}, {190, 1}, {190, 10}, {170, 1}}, 5, "2 tiles, 1 of them do not exist", geojson.RuleLongitude},
		{"not closed", orb.Ring{{0, 0}, {20, 40}, {40, 0}}, 6, "40 tiles, 0 of them do not exist", geojson.RuleOpenRing},
		{"not a number", orb.Ring{{0, 0}, {nan, 1}, {10, 10}, {0, 0}}, 5, "", geojson.RuleLongitude},
		{"without end", orb.Ring{{0, 0}, {10, inf}, {10, 10}, {0, 0}}, 5, "", geojson.RuleLatitude},
		{"beyond Web Mercator", orb.Ring{{0, 80}, {10, 80}, {10, 89}, {0, 80}}, 5, "4 tiles, 0 of them do not exist", RuleMercator},
	}
	for _, test := range tests {
		t.Run(test.name, func(t *testing.T) {
			polygon := orb.Polygon{test.ring}
			if got := library(polygon, test.zoom); test.library != "" && got != test.library {
				t.Errorf("the library: %s, not %s any more", got, test.library)
			}
			_, err := Polygons(one(polygon))
			var bad *fault.Fault
			if !errors.As(err, &bad) || bad.Kind != test.rule {
				t.Errorf("%v; want it refused by rule %q", err, test.rule)
			}
			for id := range cover(Area{Polygons: orb.MultiPolygon{polygon}}, test.zoom, 20).All() {
				if !id.Valid() {
					t.Errorf("no such tile: %v", id)
				}
			}
		})
	}
	// Closed, the same triangle has 47.
	triangle := orb.Polygon{{{0, 0}, {20, 40}, {40, 0}, {0, 0}}}
	if got := library(triangle, 6); got != "47 tiles, 0 of them do not exist" {
		t.Errorf("closed triangle: %s", got)
	}
	// Lawful input: the eastern end of the world is in its last column, and
	// there are no tiles deeper than the deepest zoom.
	end := orb.Polygon{{{170, 1}, {180, 1}, {180, 10}, {170, 1}}}
	if got := library(end, 5); got != "2 tiles, 1 of them do not exist" {
		t.Errorf("longitude 180, the library: %s", got)
	}
	if got := count(Area{Polygons: orb.MultiPolygon{end}}, 5, 0); got != 1 {
		t.Errorf("longitude 180: %d tiles, want 1", got)
	}
	if got := library(end, 32); got != "panics" {
		t.Errorf("zoom 32, the library: %s", got)
	}
	if got := (Area{Polygons: orb.MultiPolygon{end}}).Covers(tiles.Zooms{Min: 30, Max: 32}, 0); got != nil {
		t.Errorf("zoom 32: %d covers", len(got))
	}
}

func library(polygon orb.Polygon, zoom int) (does string) {
	defer func() {
		if recover() != nil {
			does = "panics"
		}
	}()
	set, err := tilecover.Polygon(polygon, maptile.Zoom(zoom))
	if err != nil {
		return err.Error()
	}
	not := 0
	for tile := range set {
		if !(tiles.ID{Z: uint32(tile.Z), X: tile.X, Y: tile.Y}).Valid() {
			not++
		}
	}
	return fmt.Sprintf("%d tiles, %d of them do not exist", len(set), not)
}
