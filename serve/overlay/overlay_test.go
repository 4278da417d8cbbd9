package overlay

import (
	"bytes"
	"context"
	"errors"
	"net/http"
	"net/http/httptest"
	"testing"
	"time"

	"github.com/paulmach/orb"

	"groundsheet/pack/record"
	"groundsheet/serve/vectortile"
	"groundsheet/tiles"
	"groundsheet/tiles/geojson"
)

// TestLargeTilesTellStates: state and test hole decide how a feature looks, so
// its tiles carry both; the record's own words for them stay behind.
func TestLargeTilesTellStates(t *testing.T) {
	p := orb.Point{-105.0005, 40.0005}
	o, err := record.New([]geojson.Feature{{Geometry: p, Properties: map[string]any{"kind": "pothole", "status": "AIP"}}}, record.Meta{File: "g.geojson", Utility: "gas"}, "1-gas")
	if err != nil {
		t.Fatal(err)
	}
	var text bytes.Buffer
	if err := o.WriteGeoJSON(&text); err != nil {
		t.Fatal(err)
	}
	x, err := vectortile.New(t.Context(), text.Bytes(), styling)
	if err != nil {
		t.Fatal(err)
	}
	tile, _ := x.Tile(tiles.At(p[0], p[1], 17))
	for word, want := range map[string]bool{"status_as_read": true, "abandoned": true, "kind_as_read": true, "test hole": true, "AIP": false, "pothole": false} {
		if bytes.Contains(tile, []byte(word)) != want {
			t.Errorf("%s: told %v", word, !want)
		}
	}
}

// TestSearchesWait: no more searches run at once than there is room for, and nobody who
// went away is waited for.
func TestSearchesWait(t *testing.T) {
	s := New(Options{Searching: 1})
	s.searching <- struct{}{}
	ctx, stop := context.WithTimeout(t.Context(), 10*time.Millisecond)
	defer stop()
	r := httptest.NewRequestWithContext(ctx, http.MethodGet, "/", nil)
	never := func(context.Context) error { t.Error("it ran"); return nil }
	if err := s.inTurn(r, never); !errors.Is(err, context.DeadlineExceeded) {
		t.Errorf("%v", err)
	}
	<-s.searching
	ran := false
	r = httptest.NewRequestWithContext(t.Context(), http.MethodGet, "/", nil)
	if err := s.inTurn(r, func(context.Context) error { ran = true; return nil }); err != nil || !ran || len(s.searching) != 0 {
		t.Errorf("%v, ran: %v, %d slots are taken", err, ran, len(s.searching))
	}
}
