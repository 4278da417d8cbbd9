package fetch_test

import (
	"bytes"
	"net/http"
	"strconv"
	"testing"

	"groundsheet/tiles"
	"groundsheet/tiles/fetch"
)

// TestImagesAreNotMixed: every tile keeps its own image, also where several wants
// share one answer.
func TestImagesAreNotMixed(t *testing.T) {
	var images [23][]byte
	for i := range images {
		images[i] = picture(256, uint32(i+1), i%3 == 0)
	}
	h := serve(t, func(w http.ResponseWriter, r *http.Request) {
		x, err := strconv.Atoi(r.URL.Path[1:])
		if err != nil {
			http.NotFound(w, r)
			return
		}
		w.Write(images[x%len(images)])
	})
	src := h.fast()
	src.URL = h.URL + "/{x}"
	const n = 1500
	s := shelf(t)
	o := quick()
	o.Unpaced, o.BatchSize = true, 16
	wants := func(yield func(fetch.Want, error) bool) {
		for x := range uint32(n / 3) {
			for y := range uint32(3) { // the same request three times, often at once
				if !yield(fetch.Want{ID: tiles.ID{Z: 20, X: x, Y: y}}, nil) {
					return
				}
			}
		}
	}
	if tally, err := fetch.Run(t.Context(), src, s, wants, o); err != nil || tally.New != n {
		t.Fatalf("%+v, %v", tally, err)
	}
	seen := 0
	all := tiles.NewCover(20, []tiles.Span{{Row: 0, Last: n}, {Row: 1, Last: n}, {Row: 2, Last: n}})
	for rec, err := range s.In(t.Context(), all, true) {
		if err != nil {
			t.Fatal(err)
		}
		if seen++; !bytes.Equal(rec.Data, images[int(rec.X)%len(images)]) {
			t.Fatalf("tile %v has the image of another", rec.ID)
		}
	}
	if seen != n {
		t.Errorf("%d tiles are held, want %d", seen, n)
	}
}
