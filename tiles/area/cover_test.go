package area

import (
	"fmt"
	"maps"
	"math"
	"slices"
	"testing"

	"github.com/paulmach/orb"

	"groundsheet/tiles"
	"groundsheet/tiles/measure"
)

// tileBox is a polygon exactly on tile borders, both ends included.
func tileBox(zoom int, x0, y0, x1, y1 uint32) orb.Polygon {
	b := tiles.ID{Z: uint32(zoom), X: x0, Y: y0}.Bounds().Join(tiles.ID{Z: uint32(zoom), X: x1, Y: y1}.Bounds())
	return orb.Polygon{{{b.West, b.South}, {b.East, b.South}, {b.East, b.North}, {b.West, b.North}, {b.West, b.South}}}
}

func cover(a Area, zoom int, margin float64) tiles.Cover {
	return a.Covers(tiles.Zooms{Min: zoom, Max: zoom}, margin)[0]
}

func count(a Area, zoom int, margin float64) int { return int(cover(a, zoom, margin).Count()) }

// columnsRows is the box of a cover in tiles.
func columnsRows(c tiles.Cover) [4]uint32 {
	box := [4]uint32{math.MaxUint32, math.MaxUint32}
	for _, s := range c.Spans() {
		box = [4]uint32{min(box[0], s.First), min(box[1], s.Row), max(box[2], s.Last), max(box[3], s.Row)}
	}
	return box
}

func TestBoxOnBorders(t *testing.T) {
	for zoom := 4; zoom <= tiles.MaxZoom; zoom++ {
		x := uint32(1) << zoom / 5
		y := uint32(1) << zoom / 3
		side := min(uint32(15), 1<<zoom-1-max(x, y))
		a := Area{Polygons: orb.MultiPolygon{tileBox(zoom, x, y, x+side, y+side)}}
		c := cover(a, zoom, 0)
		if want := uint64(side+1) * uint64(side+1); c.Count() != want || columnsRows(c) != [4]uint32{x, y, x + side, y + side} {
			t.Errorf("zoom %d: %d tiles in %v, want %d", zoom, c.Count(), columnsRows(c), want)
		}
		if up := cover(a, zoom-4, 0).Count(); side == 15 && (up < 1 || up > 4) {
			t.Errorf("zoom %d: %d tiles", zoom-4, up)
		}
	}
}

// TestJobA: a box of 200 by 100 ft at 40, -105. The tile ranges are of the
// bounding box; a margin has round corners, which may spare the corner tile.
func TestJobA(t *testing.T) {
	const e, n = -104.99928613132, 40.00027450894
	a := Area{Polygons: orb.MultiPolygon{{{{-105, 40}, {e, 39.99999999780}, {e, n}, {-105, n}, {-105, 40}}}}}
	for zoom, want := range map[int][4]uint32{
		18: {54613, 99241, 54613, 99242}, 19: {109226, 198483, 109227, 198484}, 20: {218453, 396967, 218455, 396969},
		21: {436906, 793935, 436910, 793938}, 22: {873813, 1587871, 873821, 1587876},
	} {
		c := cover(a, zoom, 0)
		if got := columnsRows(c); got != want || c.Count() != uint64((want[2]-want[0]+1)*(want[3]-want[1]+1)) {
			t.Errorf("zoom %d: %d tiles in %v, want all of %v", zoom, c.Count(), got, want)
		}
	}
	if got := count(a, 23, 0); got != 180 {
		t.Errorf("zoom 23: %d tiles, want 180", got)
	}
	for _, test := range []struct {
		margin    float64
		zoom, box int
	}{{25, 21, 24}, {25, 22, 88}, {50, 20, 12}, {50, 21, 42}, {50, 22, 130}} {
		c := cover(a, test.zoom, test.margin*measure.Foot)
		b := columnsRows(c)
		box := int((b[2] - b[0] + 1) * (b[3] - b[1] + 1))
		if corners := box - int(c.Count()); box != test.box || corners < 0 || corners > 4 {
			t.Errorf("%v ft at zoom %d: %d tiles in a box of %d, want a box of %d less at most 4", test.margin, test.zoom, c.Count(), box, test.box)
		}
	}
	total := uint64(0)
	for _, c := range a.Covers(tiles.Zooms{Min: 14, Max: 22}, 0) {
		total += c.Count()
	}
	if total != 94 {
		t.Errorf("zooms 14 to 22: %d tiles, want 94", total)
	}
}

// TestJobB: a mile at azimuth 45, 30 m each side with flat ends. The counts
// are calculated (separating axes, and dense sampling) and agree within 2.
func TestJobB(t *testing.T) {
	flat := Area{Polygons: orb.MultiPolygon{{{
		{-105.00024842, 40.00019105}, {-104.98692020, 40.01043916}, {-104.98642336, 40.01005700}, {-104.99975158, 39.99980895}, {-105.00024842, 40.00019105}}}}}
	round, err := Route(one(orb.LineString{{-105, 40}, {-104.986671778776, 40.010248081480}}), 60)
	if err != nil {
		t.Fatal(err)
	}
	for zoom, want := range map[int]int{16: 5, 17: 11, 18: 21, 19: 61, 20: 198, 21: 630, 22: 2089} {
		if got := count(flat, zoom, 0); got < want-2 || got > want+2 {
			t.Errorf("zoom %d: %d tiles, want %d within 2", zoom, got, want)
		}
		// The strip has round ends: two half circles of 30 m more.
		side := tiles.GroundResolution(40, zoom, 256) * 256
		ends := int(2 * (30/side + 2) * (60/side + 2))
		strip := cover(round, zoom, 0)
		for id := range cover(flat, zoom, 0).All() {
			// Corners are given to 1 mm, so one tile may be had by a corner alone.
			if b := columnsRows(strip); !strip.Has(id) && id.X > b[0] && id.X < b[2] {
				t.Errorf("zoom %d: the strip lacks %v", zoom, id)
			}
		}
		if got := int(strip.Count()); got < want-2 || got > want+ends {
			t.Errorf("zoom %d: the strip has %d tiles, want %d to %d", zoom, got, want, want+ends)
		}
	}
}

func TestPlaces(t *testing.T) {
	lower := func(t tiles.ID) orb.Point { // the north-west corner of a tile
		b := t.Bounds()
		return orb.Point{b.West, b.North}
	}
	corner := lower(tiles.ID{Z: 10, X: 200, Y: 300})
	tests := []struct {
		name   string
		area   Area
		zoom   int
		margin float64
		want   []tiles.ID
	}{
		{"anchor z12", Area{Discs: []Disc{{orb.Point{-74.0060, 40.7128}, 0}}}, 12, 0, []tiles.ID{{Z: 12, X: 1205, Y: 1540}}},
		{"anchor z18", Area{Discs: []Disc{{orb.Point{-74.0060, 40.7128}, 0}}}, 18, 0, []tiles.ID{{Z: 18, X: 77182, Y: 98561}}},
		{"a place on a corner has the tile that holds it", Area{Discs: []Disc{{corner, 0}}}, 10, 0, []tiles.ID{{Z: 10, X: 200, Y: 300}}},
		{"a margin round a corner", Area{Discs: []Disc{{corner, 0}}}, 10, 1, []tiles.ID{
			{Z: 10, X: 199, Y: 299}, {Z: 10, X: 200, Y: 299}, {Z: 10, X: 199, Y: 300}, {Z: 10, X: 200, Y: 300}}},
		{"a bare line along a border", Area{Strips: []Strip{{orb.LineString{corner, lower(tiles.ID{Z: 10, X: 202, Y: 300})}, 0}}}, 10, 0,
			[]tiles.ID{{Z: 10, X: 200, Y: 300}, {Z: 10, X: 201, Y: 300}}},
		{"a bare line down a border", Area{Strips: []Strip{{orb.LineString{corner, lower(tiles.ID{Z: 10, X: 200, Y: 302})}, 0}}}, 10, 0,
			[]tiles.ID{{Z: 10, X: 200, Y: 300}, {Z: 10, X: 200, Y: 301}}},
		{"a sliver finer than the tolerance, on a border", Area{Polygons: orb.MultiPolygon{sliver(corner, 1e-10)}}, 10, 0, []tiles.ID{{Z: 10, X: 199, Y: 300}, {Z: 10, X: 200, Y: 300}}},
		{"a small area at Greenwich has both tiles", Area{Discs: []Disc{{orb.Point{0, 51}, 10}}}, 1, 0, []tiles.ID{{Z: 1, X: 0, Y: 0}, {Z: 1, X: 1, Y: 0}}},
		{"the eastern edge of the world", Area{Discs: []Disc{{orb.Point{180, 0.1}, 0}}}, 3, 0, []tiles.ID{{Z: 3, X: 7, Y: 3}}},
		{"a disc over the antimeridian", Area{Discs: []Disc{{orb.Point{180, 0.1}, 100}}}, 3, 0, []tiles.ID{{Z: 3, X: 0, Y: 3}, {Z: 3, X: 7, Y: 3}}},
		{"a disc that ends at the antimeridian", Area{Discs: []Disc{{orb.Point{180 - 100/111319.49079327357 + 1e-9, 0.1}, 100}}}, 3, 0, []tiles.ID{{Z: 3, X: 7, Y: 3}}},
		{"a strip finer than the tolerance, on a border", Area{Strips: []Strip{{orb.LineString{corner, lower(tiles.ID{Z: 10, X: 200, Y: 302})}, 1e-5}}}, 10, 0,
			[]tiles.ID{{Z: 10, X: 200, Y: 300}, {Z: 10, X: 200, Y: 301}}},
		{"a margin over the antimeridian", Area{Strips: []Strip{{orb.LineString{{-179.9999, 1}, {-179.9999, 2}}, 5}}}, 3, 20, []tiles.ID{{Z: 3, X: 0, Y: 3}, {Z: 3, X: 7, Y: 3}}},
		{"the northern end", Area{Discs: []Disc{{orb.Point{10, 85.0511}, 1000}}}, 4, 1e5, []tiles.ID{{Z: 4, X: 7, Y: 0}, {Z: 4, X: 8, Y: 0}}},
		{"the southern corner", Area{Discs: []Disc{{orb.Point{180, -tiles.MaxLatitude}, 0}}}, 2, 0, []tiles.ID{{Z: 2, X: 3, Y: 3}}},
		{"nothing", Area{}, 5, 100, nil},
		{"made by hand, not a number", Area{Discs: []Disc{{orb.Point{math.NaN(), 1}, 1}, {orb.Point{0, 0}, math.NaN()}}, Polygons: orb.MultiPolygon{{{{0, 0}, {math.Inf(1), 1}, {1, 1}, {0, 0}}}, {}}}, 5, 0, nil},
	}
	for _, test := range tests {
		t.Run(test.name, func(t *testing.T) {
			got := slices.SortedFunc(cover(test.area, test.zoom, test.margin).All(), tiles.Compare)
			want := slices.SortedFunc(slices.Values(test.want), tiles.Compare)
			if !slices.Equal(got, want) {
				t.Errorf("got %v, want %v", got, want)
			}
		})
	}
}

// sliver is a polygon to the south of a place, some degrees wide and flat at
// the border, half on each side.
func sliver(p orb.Point, wide float64) orb.Polygon {
	w, e, s := p[0]-wide/2, p[0]+wide/2, p[1]-0.01
	return orb.Polygon{{{w, s}, {e, s}, {e, p[1]}, {w, p[1]}, {w, s}}}
}

func TestZooms(t *testing.T) {
	a := Area{Discs: []Disc{{orb.Point{-105, 40}, 300}}, Polygons: orb.MultiPolygon{{{{-105, 39}, {-104, 40}, {-105, 40}, {-105, 39}}}}}
	all := a.Covers(tiles.Zooms{Min: 3, Max: 12}, 20)
	if len(all) != 10 {
		t.Fatalf("%d covers, want 10", len(all))
	}
	for i, c := range all {
		if alone := cover(a, i+3, 20); c.Zoom() != i+3 || !slices.Equal(c.Spans(), alone.Spans()) {
			t.Errorf("zoom %d depends on the range asked for", i+3)
		}
	}
	if got := a.Covers(tiles.Zooms{Min: 5, Max: 4}, 0); got != nil {
		t.Errorf("reversed range: %d covers", len(got))
	}
	if less, none := cover(a, 12, -5), cover(a, 12, 0); !slices.Equal(less.Spans(), none.Spans()) {
		t.Error("a negative margin is not none")
	}
}

// TestWholeWorld shows that the work follows rows and edges: 2^40 tiles.
func TestWholeWorld(t *testing.T) {
	world := Area{Polygons: orb.MultiPolygon{tileBox(0, 0, 0, 0, 0)}}
	if got := cover(world, 20, 0).Count(); got != 1<<40 {
		t.Errorf("%d tiles, want %d", got, uint64(1)<<40)
	}
	if got := cover(world, 6, 10).Count(); got != 1<<12 {
		t.Errorf("with a margin %d tiles, want %d", got, 1<<12)
	}
}

// TestManySpans makes a cover whose spans are joined on the way.
func TestManySpans(t *testing.T) {
	line := orb.LineString{{-105, 40}, {-104, 40.3}, {-105, 40.6}, {-104, 40.9}}
	strip := Area{Strips: []Strip{{line, 10}}}
	whole := cover(strip, 22, 0)
	parts := maps.Collect(func(yield func(tiles.ID, bool) bool) {
		for i := 1; i < len(line); i++ {
			for id := range cover(Area{Strips: []Strip{{line[i-1 : i+1], 10}}}, 22, 0).All() {
				if !yield(id, true) {
					return
				}
			}
		}
	})
	if int(whole.Count()) != len(parts) {
		t.Errorf("%d tiles, by parts %d", whole.Count(), len(parts))
	}
	var k coverBuilder
	k.reset(20, 0, 1000.0/(1<<20))
	for i := range 3 * compactAt {
		k.add(i%1000, float64(i%977)*3, float64(i%977)*3+1, false)
	}
	if len(k.rows.items) > 2*compactAt {
		t.Errorf("%d runs kept", len(k.rows.items))
	}
	if c := k.cover(); c.Count() != 977*1000 {
		t.Errorf("%d tiles, want %d", c.Count(), 977*1000)
	}
}

func ExampleArea_Covers() {
	dig, _ := Around(40, -105, 100*measure.Foot)
	for _, c := range dig.Covers(tiles.Zooms{Min: 18, Max: 20}, 25*measure.Foot) {
		fmt.Println(c.Zoom(), c.Count())
	}
	// Output:
	// 18 2
	// 19 6
	// 20 12
}
