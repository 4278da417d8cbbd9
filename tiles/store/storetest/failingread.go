package storetest

import (
	"net/http"
	"net/http/httptest"
	"slices"
	"strings"
	"sync"
	"testing"
	"time"

	"groundsheet/tiles"
	"groundsheet/tiles/fetch"
	"groundsheet/tiles/source"
	"groundsheet/tiles/store"
)

// FailingRead fetches what is missing of a cover from a shelf that cannot be
// read to the end of it: the error ends the run, and no request leaves for a
// tile that is held or that lies behind the last one read.
func FailingRead(t *testing.T, s store.Shelf, c tiles.Cover) {
	t.Helper()
	held, last, broken := map[tiles.ID]bool{}, tiles.ID{}, error(nil)
	for r, err := range s.In(t.Context(), c, false) {
		if broken = err; err == nil {
			held[r.ID], last = true, r.ID
		}
	}
	if broken == nil || len(held) == 0 {
		t.Fatalf("%d tiles and %v: the shelf has to fail midway", len(held), broken)
	}
	asked, url := absentEverywhere(t)
	src := source.Source{
		Name: "county", Kind: source.KindXYZ, URL: url, Zooms: tiles.Zooms{Max: tiles.MaxZoom}, TileSize: 256,
		Terms: &source.Terms{Offline: source.OfflineAllowed, RequestsPerSecond: 1e5, Connections: 4},
	}
	now := func() time.Time { return image(0, 0, 0, 0, 1).Fetched }
	wants := fetch.Wants(store.Compare(t.Context(), s, false, c), src.Terms, now(), false)
	tally, err := fetch.Run(t.Context(), src, s, wants, fetch.Options{Now: now})
	if err == nil || len(asked()) == 0 {
		t.Fatalf("%v after %+v, want the error of the store after some requests", err, tally)
	}
	for _, id := range asked() {
		if held[id] || tiles.Compare(id, last) > 0 {
			t.Errorf("tile %v was asked for; %v is the last that could be read", id, last)
		}
	}
}

// absentEverywhere is a source without a single tile, which records what it is
// asked for.
func absentEverywhere(t *testing.T) (asked func() []tiles.ID, url string) {
	var mu sync.Mutex
	var ids []tiles.ID
	server := httptest.NewServer(http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		id, err := tiles.ParseID(strings.TrimPrefix(r.URL.Path, "/"))
		if err != nil {
			t.Errorf("a request for %s", r.URL.Path)
		}
		mu.Lock()
		ids = append(ids, id)
		mu.Unlock()
		http.NotFound(w, r)
	}))
	t.Cleanup(server.Close)
	return func() []tiles.ID {
		mu.Lock()
		defer mu.Unlock()
		return slices.Clone(ids)
	}, server.URL + "/{z}/{x}/{y}"
}
