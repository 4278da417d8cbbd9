package vectortile

import (
	"runtime"
	"testing"
	"time"

	"github.com/paulmach/orb"

	"groundsheet/tiles"
	"groundsheet/tiles/geojson"
)

// FuzzTile: whatever a pack holds, a tile can be read as the text of Mapbox
// Vector Tile 2.1 wants it, and has no more things than its most.
func FuzzTile(f *testing.F) {
	for _, g := range []string{
		`{"type":"Point","coordinates":[-140.5,40.5]}`,
		`{"type":"LineString","coordinates":[[-140.5,40.5],[-140.4,40.5],[-140.4,89.9999]]}`,
		`{"type":"Polygon","coordinates":[[[-180,-90],[180,-90],[180,90],[-180,90],[-180,-90]],[[0,0],[0,0],[0,0],[0,0]]]}`,
		`{"type":"GeometryCollection","geometries":[{"type":"MultiPoint","coordinates":[[0,0],[180,-85.1]]},{"type":"MultiLineString","coordinates":[[[0,0],[0,0]]]}]}`,
		`{"type":"MultiPolygon","coordinates":[[[[0,0],[1,0],[0,1],[0,0]]],[[[0,0],[1,1],[0,1],[0,0]]]]}`,
	} {
		f.Add([]byte(`{"type":"FeatureCollection","features":[{"type":"Feature","properties":{"depth_m":1,"quality_level":"A"},"geometry":`+g+`}]}`), uint8(12), uint32(448), uint32(1541))
		f.Add([]byte(`{"features":[{"type":"Feature","properties":{"depth_m":true},"geometry":`+g+`}]}`), uint8(0), uint32(0), uint32(0))
	}
	f.Fuzz(func(t *testing.T, text []byte, z uint8, column, row uint32) {
		x, err := New(t.Context(), text, carried)
		if err != nil {
			return
		}
		zoom := uint32(z) % (DeepestZoom + 1)
		for _, tile := range []tiles.ID{{Z: zoom, X: column % (1 << zoom), Y: row % (1 << zoom)}, {}} {
			b, err := x.Tile(tile)
			if err != nil {
				t.Fatal(err)
			}
			if all := read(t, b); len(all) > 2*maxMarks {
				t.Fatalf("%d things", len(all))
			}
		}
		for _, found := range near(t, x, Search{Within: 1e6, Most: 20}) {
			if record, err := x.Record(found.Feature); err != nil || len(record) == 0 {
				t.Fatalf("record %d: %v", found.Feature, err)
			}
		}
	})
}

// TestHostileLine: half a million positions within one tile are cut in no
// time and come out few.
func TestHostileLine(t *testing.T) {
	line := walk(500_000, orb.Point{-140.5, 40.5}, 0.00002, 13)
	for i := range line { // back and forth within a few meters
		line[i] = orb.Point{-140.5 + float64(i%7919)*2.5e-9, 40.5 + float64(i%6007)*2.5e-9}
	}
	x := index(t, []geojson.Feature{feature(line, nil)})
	began := time.Now()
	positions := 0
	for _, zoom := range []int{8, 17, 20, DeepestZoom} {
		for _, d := range cutTile(t, x, tiles.At(line[0][0]+1e-8, line[0][1]+1e-8, zoom)) {
			for _, part := range d.parts {
				positions += len(part)
			}
		}
	}
	if took := time.Since(began); took > 20*time.Second || positions == 0 {
		t.Errorf("%d positions after %v", positions, took)
	}
	t.Log(positions, time.Since(began))
}

// heap is what is reachable, in bytes.
func heap() uint64 {
	var m runtime.MemStats
	runtime.GC()
	runtime.GC()
	runtime.ReadMemStats(&m)
	return m.HeapAlloc
}

// TestMemory: a hundred thousand readings take less than 40 MB while they are
// served.
func TestMemory(t *testing.T) {
	text := written(t, readings(100_000, orb.Point{-140.5, 40.5}, 0.02, 17))
	before := heap()
	x, err := New(t.Context(), text, carried)
	if err != nil {
		t.Fatal(err)
	}
	took := heap() - before
	t.Logf("%d bytes of text, %.1f MB held", len(text), float64(took)/1e6)
	if took > 40e6 {
		t.Errorf("%.1f MB are held", float64(took)/1e6)
	}
	runtime.KeepAlive(x)
	runtime.KeepAlive(text)
}

// BenchmarkIndex reads 100,000 readings.
func BenchmarkIndex(b *testing.B) {
	text := written(b, readings(100_000, orb.Point{-140.5, 40.5}, 0.02, 17))
	b.SetBytes(int64(len(text)))
	for b.Loop() {
		if _, err := New(b.Context(), text, carried); err != nil {
			b.Fatal(err)
		}
	}
}

// BenchmarkTile cuts the tiles over 100,000 readings: all of them in one tile,
// and as near as they are read.
func BenchmarkTile(b *testing.B) {
	x := index(b, readings(100_000, orb.Point{-140.5, 40.5}, 0.02, 17))
	for name, zoom := range map[string]int{"whole": 10, "street": 15, "near": 19} {
		b.Run(name, func(b *testing.B) {
			size := 0
			for b.Loop() {
				tile, err := x.Tile(tiles.At(-140.4991, 40.5007, zoom))
				if err != nil {
					b.Fatal(err)
				}
				size = len(tile)
			}
			b.ReportMetric(float64(size), "bytes")
		})
	}
}
