//go:build outside

package postgres

import (
	"runtime"
	"testing"

	"groundsheet/tiles"
	"groundsheet/tiles/store"
)

// 100,000 tiles, some of 16 KB and most of half a KB, are walked in a small
// part of the memory that they take together.
func TestOutsideWalkInBoundedMemory(t *testing.T) {
	a := address(t)
	s := town(t, openAt(t, a, Options{}))
	keep(t, s, image(3, 1, 1, 10))
	query(t, a, `WITH d AS (SELECT i, decode(repeat(md5(i::text), CASE WHEN i < 12000 THEN 1024 ELSE 32 END), 'hex') AS data FROM generate_series(0, 99999) AS i),
		im AS (INSERT INTO groundsheet.images SELECT 1, sha256(data), length(data), data FROM d)
		INSERT INTO groundsheet.tiles SELECT 1, 17, i / 500, i % 500, sha256(data), length(data), 'png', 'town', 1, 2, '', '', false, false, 0 FROM d`)
	var spans []tiles.Span
	for y := range uint32(200) {
		spans = append(spans, tiles.Span{Row: y, First: 0, Last: 499})
	}
	walks := map[string]func() (n int, peak uint64){
		"In":  func() (int, uint64) { return walk(t, s.In(t.Context(), tiles.NewCover(17, spans), true)) },
		"All": func() (int, uint64) { return walk(t, s.All(t.Context(), true)) },
	}
	for name, do := range walks {
		runtime.GC()
		var before runtime.MemStats
		runtime.ReadMemStats(&before)
		n, peak := do()
		if n < 100000 {
			t.Errorf("%s: %d tiles", name, n)
		}
		grown := (max(peak, before.HeapAlloc) - before.HeapAlloc) >> 20
		t.Logf("%s: %d MB more at most, for 242 MB of images", name, grown)
		if grown > 40 {
			t.Errorf("%s: %d MB more", name, grown)
		}
	}
}

func walk(t *testing.T, records func(func(store.Held, error) bool)) (n int, peak uint64) {
	t.Helper()
	for _, err := range records {
		if err != nil {
			t.Fatal(err)
		}
		if n++; n%1000 == 0 {
			var m runtime.MemStats
			runtime.ReadMemStats(&m)
			peak = max(peak, m.HeapAlloc)
		}
	}
	return n, peak
}
