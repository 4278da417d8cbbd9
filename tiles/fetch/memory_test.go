package fetch_test

import (
	"context"
	"net/http"
	"net/http/httptest"
	"runtime"
	"testing"

	"groundsheet/tiles"
	"groundsheet/tiles/fetch"
)

// The memory of a run does not grow with its tiles: what lives after a fifth
// of them is what lives at the end, give or take a batch.
func TestMemoryDoesNotGrow(t *testing.T) {
	server := httptest.NewServer(http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) { w.Write(plain) }))
	defer server.Close()
	const n, mayGrow = 10000, 1 << 20 // 8,000 tiles of 130 bytes would be seen
	live := func() uint64 {
		runtime.GC()
		var m runtime.MemStats
		runtime.ReadMemStats(&m)
		return m.HeapAlloc
	}
	var early, late uint64
	wants := func(yield func(fetch.Want, error) bool) {
		for x := range uint32(n) {
			switch x {
			case n / 5:
				early = live()
			case n - 1:
				late = live()
			}
			if !yield(fetch.Want{ID: tiles.ID{Z: 20, X: x}}, nil) {
				return
			}
		}
	}
	o := quick()
	o.Unpaced, o.BatchSize = true, 64
	tally, err := fetch.Run(context.Background(), (&host0{server.URL}).source(), shelf(t), wants, o)
	if err != nil || tally.New != n {
		t.Fatalf("%+v, %v", tally, err)
	}
	if late > early+mayGrow {
		t.Errorf("%d kB live after a fifth of the tiles, %d kB at the end", early>>10, late>>10)
	}
	t.Logf("%d kB live after a fifth of the tiles, %d kB at the end", early>>10, late>>10)
}
