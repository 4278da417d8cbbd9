package vectortile

import (
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"runtime"
	"slices"
	"strings"
	"testing"

	"github.com/paulmach/orb"

	"groundsheet/tiles"
	"groundsheet/tiles/geodesic"
	"groundsheet/tiles/geojson"
)

// near looks for features, as many as are wanted or there are.
func near(t *testing.T, x *Index, s Search) []Found {
	t.Helper()
	found, count, err := x.Near(t.Context(), s)
	if err != nil || len(found) != min(count, s.Most) {
		t.Fatalf("%d of %d, %v", len(found), count, err)
	}
	return found
}

// TestNearFew: however few are wanted, they are the first of all, and all are counted; of a
// feature of several shapes the closest counts, once.
func TestNearFew(t *testing.T) {
	spots := readings(4000, orb.Point{-140.5, 40.5}, 0.002, 9)
	var all []geojson.Feature
	for i := 0; i+3 < len(spots); i += 4 {
		p := func(k int) orb.Point { return spots[i+k].Geometry.(orb.Point) }
		all = append(all, feature(orb.MultiPoint{p(0), p(1)}, nil), feature(orb.LineString{p(2), p(3)}, nil))
	}
	x := index(t, all)
	s := Search{Lon: -140.5, Lat: 40.5, Within: 150, Most: len(all)}
	whole := near(t, x, s)
	if len(whole) < 100 || !slices.IsSortedFunc(whole, closer) {
		t.Fatalf("%d found", len(whole))
	}
	for _, s.Most = range []int{0, 1, 7, 20, len(whole) - 1, len(whole)} {
		got, count, err := x.Near(t.Context(), s)
		if err != nil || count != len(whole) || !slices.Equal(got, whole[:s.Most]) {
			t.Errorf("%d wanted: %d of %d, %v", s.Most, len(got), count, err)
		}
	}
}

// TestNearInside: of outlines only those that the place lies in, the others not counted.
func TestNearInside(t *testing.T) {
	square := func(east float64) orb.Polygon {
		w, e := -140.5+(east-9)*1e-5, -140.5+(east+9)*1e-5
		return orb.Polygon{{{w, 40.4999}, {e, 40.4999}, {e, 40.5001}, {w, 40.5001}, {w, 40.4999}}}
	}
	x := index(t, []geojson.Feature{feature(square(0), nil), feature(square(20), nil), feature(orb.Point{-140.5, 40.5}, nil)})
	for inside, want := range map[bool]int{true: 2, false: 3} {
		if _, count, err := x.Near(t.Context(), Search{Lon: -140.5, Lat: 40.5, Within: 100, Most: 1, Inside: inside}); count != want || err != nil {
			t.Errorf("inside %v: %d, %v", inside, count, err)
		}
	}
}

// TestNearGivesUp: who went away is not looked for any longer.
func TestNearGivesUp(t *testing.T) {
	x := index(t, readings(5*checkEvery, orb.Point{-140.5, 40.5}, 0.001, 9))
	ctx, stop := context.WithCancel(t.Context())
	stop()
	if _, count, err := x.Near(ctx, Search{Lon: -140.5, Lat: 40.5, Within: 1e5, Most: 20}); !errors.Is(err, context.Canceled) || count > checkEvery {
		t.Errorf("%d, %v", count, err)
	}
}

// TestNearMemory: looking at very many takes no more memory than looking at few.
func TestNearMemory(t *testing.T) {
	x := index(t, readings(50_000, orb.Point{-140.5, 40.5}, 0.01, 9))
	var before, after runtime.MemStats
	runtime.ReadMemStats(&before)
	if _, count, err := x.Near(t.Context(), Search{Lon: -140.5, Lat: 40.5, Within: 1e5, Most: 20}); count != 50_000 || err != nil {
		t.Fatal(count, err)
	}
	runtime.ReadMemStats(&after)
	if took := after.TotalAlloc - before.TotalAlloc; took > 1<<20 {
		t.Errorf("%d bytes", took)
	}
}

// TestNear finds the same readings as looking at every one.
func TestNear(t *testing.T) {
	for _, place := range []orb.Point{{-140.5, 40.5}, {10.75, 60}, {5, -0.0003}} {
		all := readings(3000, place, 0.002, 9)
		x := index(t, all)
		for _, within := range []float64{0.5, 5, 40} {
			met := map[int]float64{}
			for _, f := range near(t, x, Search{Lon: place[0], Lat: place[1], Within: within, Most: len(all)}) {
				met[f.Feature] = f.Distance
			}
			for i, f := range all {
				d := geodesic.Distance(place, f.Geometry.(orb.Point))
				got, ok := met[i]
				// The sphere of the map is up to 0.7 % off the ellipsoid.
				if d < within*0.993 && !ok || d > within*1.007 && ok || ok && (got < d*0.992 || got > d*1.008) {
					t.Errorf("within %v m of %v: reading %d at %.3f m, found %v at %.3f m", within, place, i, d, ok, got)
				}
			}
		}
	}
}

// TestNearOrder: points before lines before outlines, each nearest first, and
// a feature of several shapes once.
func TestNearOrder(t *testing.T) {
	at := func(east, north float64) orb.Point { return orb.Point{-140.5 + east*1e-5, 40.5 + north*1e-5} }
	square := orb.Polygon{{at(-9, -9), at(9, -9), at(9, 9), at(-9, 9), at(-9, -9)}}
	hole := orb.Polygon{square[0], {at(-5, -5), at(-5, 5), at(5, 5), at(5, -5), at(-5, -5)}}
	x := index(t, []geojson.Feature{
		feature(square, nil),
		feature(orb.LineString{at(-50, 1), at(50, 1)}, nil),
		feature(at(3, 0), nil),
		feature(orb.MultiPoint{at(2, 0), at(1, 0), at(90, 0)}, nil),
		feature(at(400, 0), nil),
		feature(hole, nil),
	})
	var got []int
	for _, f := range near(t, x, Search{Lon: -140.5, Lat: 40.5, Within: 4, Most: 9}) {
		got = append(got, f.Feature)
	}
	want := []int{3, 2, 1, 0}
	if len(got) != len(want) {
		t.Fatalf("found %v, want %v", got, want)
	}
	for i := range want {
		if got[i] != want[i] {
			t.Fatalf("found %v, want %v", got, want)
		}
	}
}

// TestRecord: what is given back is what was packed, to the byte.
func TestRecord(t *testing.T) {
	all := readings(blockSize*2+5, orb.Point{-140.5, 40.5}, 0.01, 11)
	text := written(t, all)
	var whole struct{ Features []json.RawMessage }
	if err := json.Unmarshal(text, &whole); err != nil {
		t.Fatal(err)
	}
	x, err := New(t.Context(), text, carried)
	if err != nil {
		t.Fatal(err)
	}
	for i, want := range whole.Features {
		got, err := x.Record(i)
		if err != nil || !bytes.Equal(got, want) {
			t.Fatalf("record %d: %v %s, want %s", i, err, got, want)
		}
	}
	for _, n := range []int{-1, len(all)} {
		if got, err := x.Record(n); got != nil || err != nil {
			t.Errorf("record %d: %s %v", n, got, err)
		}
	}
}

// TestContent: what the list of layers tells of an overlay.
func TestContent(t *testing.T) {
	p := orb.Point{-140.5, 40.5}
	for name, c := range map[string]struct {
		features []geojson.Feature
		points   bool
		levels   string
		count    int
	}{
		"nothing":       {nil, false, "", 0},
		"points":        {[]geojson.Feature{feature(p, nil), feature(orb.MultiPoint{p, p}, map[string]any{"quality_level": " B "})}, true, ",B", 2},
		"mixed":         {[]geojson.Feature{feature(p, map[string]any{"quality_level": "A"}), feature(orb.LineString{p, {-140, 41}}, map[string]any{"quality_level": "A"})}, false, "A", 2},
		"without place": {[]geojson.Feature{{Properties: map[string]any{"quality_level": "D"}}, feature(p, map[string]any{"quality_level": strings.Repeat("é", 99)})}, true, strings.Repeat("é", 32), 1},
	} {
		t.Run(name, func(t *testing.T) {
			got := index(t, c.features).Content()
			if got.Features != c.count || got.Points != c.points || strings.Join(got.Levels, ",") != c.levels {
				t.Errorf("%+v", got)
			}
			if c.count > 0 && !got.Box.Contains(-140.5, 40.5) {
				t.Errorf("the box is %+v", got.Box)
			}
		})
	}
}

// TestRefuses: what is no overlay is told, and where.
func TestRefuses(t *testing.T) {
	for name, c := range map[string]struct{ text, want string }{
		"nothing":   {"", "the file is empty"},
		"a list":    {"[]", "not a GeoJSON object"},
		"no list":   {`{"features":{}}`, "a FeatureCollection needs a member \"features\" with an array"},
		"cut short": {`{"features":[{"type":"Feature","geometry":null,"properties":null}`, "not JSON: unexpected end"},
	} {
		t.Run(name, func(t *testing.T) {
			if _, err := New(t.Context(), []byte(c.text), carried); err == nil || !strings.Contains(err.Error(), c.want) {
				t.Errorf("%v, want %q", err, c.want)
			}
		})
	}
}

// TestNotDrawn: a feature that cannot be drawn hides no other, and is counted.
func TestNotDrawn(t *testing.T) {
	const good = `{"type":"Feature","geometry":{"type":"Point","coordinates":[-140.5,40.5]},"properties":null}`
	for _, bad := range []string{
		`{"type":"Feature","geometry":{"type":"Point","coordinates":[1]},"properties":null}`,
		`{"type":"FeatureCollection","features":[]}`,
		`{"type":"Feature","geometry":{"type":"Point","coordinates":[1e308,1e308]},"properties":null}`,
		`{"type":"Feature","geometry":{"type":"Point","coordinates":[1e999,2]},"properties":null}`,
		`{"type":"Feature","geometry":{"type":"LineString","coordinates":[[0,0],[1e9,0]]},"properties":null}`,
	} {
		x, err := New(t.Context(), []byte(`{"type":"FeatureCollection","features":[`+bad+","+good+`]}`), carried)
		if err != nil || x.Content().Features != 1 || x.Content().NotDrawn != 1 {
			t.Errorf("%s: %v", bad, err)
		}
	}
}

// TestTileRefuses: zooms and places that are not cut.
func TestTileRefuses(t *testing.T) {
	x := index(t, readings(1, orb.Point{0, 0}, 0.1, 1))
	for _, tile := range []tiles.ID{{Z: 25}, {Z: 3, X: 8}, {Z: 3, Y: 8}, {Z: 200, X: 1}} {
		if _, err := x.Tile(tile); err == nil {
			t.Errorf("tile %v was cut", tile)
		}
	}
}
