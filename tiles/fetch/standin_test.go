package fetch_test

import (
	"errors"
	"io"
	"net/http"
	"net/http/httptest"
	"testing"
	"time"

	"groundsheet/tiles"
	"groundsheet/tiles/fetch"
	"groundsheet/tiles/source"
	"groundsheet/tiles/store"
)

// filled is a shelf that holds the first n tiles of the row, stale, and the
// wants of the row; the source never said that they may stand in.
func filled(t *testing.T, n, wanted uint32) (store.Shelf, []fetch.Want) {
	t.Helper()
	h := serve(t, sends(plain))
	src := h.fast()
	src.Terms.KeepAtLeast = 0
	s := shelf(t)
	if _, err := run(src, s, row(n), quick()); err != nil {
		t.Fatal(err)
	}
	have := map[tiles.ID]store.Held{}
	for _, r := range held(t, s) {
		have[r.ID] = r
	}
	var wants []fetch.Want
	for _, w := range row(wanted) {
		wants = append(wants, fetch.Want{ID: w.ID, Held: have[w.ID]})
	}
	return s, wants
}

// down are sources that fail, each in its own way.
func down(t *testing.T) map[string]string {
	closed := httptest.NewServer(nil)
	closed.Close()
	busy := serve(t, func(w http.ResponseWriter, r *http.Request) { w.WriteHeader(503) })
	page := serve(t, func(w http.ResponseWriter, r *http.Request) { io.WriteString(w, "<html>we are moving</html>") })
	long := serve(t, func(w http.ResponseWriter, r *http.Request) {
		w.Header().Set("Retry-After", "86400")
		w.WriteHeader(503)
	})
	return map[string]string{"no connection": closed.URL, "503": busy.URL, "a page instead": page.URL, "a long wait": long.URL}
}

// The evening before a visit: what is held stands in for a source that fails,
// and the source is left alone once it is seen to fail.
func TestStandIn(t *testing.T) {
	for name, url := range down(t) {
		t.Run(name, func(t *testing.T) {
			s, wants := filled(t, 500, 500)
			before := held(t, s)
			o := quick()
			o.Attempts, o.StandIn = 2, true
			src := (&host0{url}).source()
			tally, err := run(src, s, wants, o)
			if err != nil || tally.StoodIn != 500 || tally.Failed != 0 || tally.Requests > 60 {
				t.Errorf("%+v, %v", tally, err)
			}
			after := held(t, s)
			for i := range before {
				if !before[i].FreshUntil.Equal(after[i].FreshUntil) {
					t.Fatal("a tile that stood in counts as asked for")
				}
			}
			// Without being told to, nothing stands in.
			o.StandIn = false
			if tally, err = run(src, shelf(t), wants, o); err == nil || tally.StoodIn != 0 {
				t.Errorf("not told: %+v, %v", tally, err)
			}
		})
	}
}

// What is not held cannot stand in: the run ends with the reason.
func TestStandInEndsWhereNothingIsHeld(t *testing.T) {
	for name, url := range down(t) {
		t.Run(name, func(t *testing.T) {
			s, wants := filled(t, 300, 301)
			o := quick()
			o.Attempts, o.StandIn = 2, true
			src := (&host0{url}).source()
			src.Terms.Connections = 1
			tally, err := run(src, s, wants, o)
			var stopped *fetch.Stop
			if !errors.As(err, &stopped) || tally.StoodIn != 300 {
				t.Errorf("%+v, %v", tally, err)
			}
		})
	}
}

// A source that does not let us in has not failed: nothing stands in.
func TestNothingStandsInForARefusal(t *testing.T) {
	h := serve(t, func(w http.ResponseWriter, r *http.Request) { w.WriteHeader(403) })
	s, wants := filled(t, 5, 5)
	o := quick()
	o.StandIn = true
	tally, err := run(h.fast(), s, wants, o)
	stoppedFor(t, err, fetch.StopRejected)
	if tally.StoodIn != 0 {
		t.Errorf("%+v", tally)
	}
}

// Where the source allowed it, a tile stands in for that time and no longer.
func TestStandInTimeEnds(t *testing.T) {
	h := serve(t, func(w http.ResponseWriter, r *http.Request) { w.WriteHeader(502) })
	s, wants := filled(t, 2, 2)
	now := time.Now()
	wants[0].Held.UsableUntil, wants[1].Held.UsableUntil = now.Add(time.Hour), now.Add(-time.Second)
	o := quick()
	o.Attempts = 1
	tally, err := run(h.fast(), s, wants, o)
	var inc *fetch.Incomplete
	if !errors.As(err, &inc) || tally.StoodIn != 1 || tally.Failed != 1 {
		t.Errorf("%+v, %v", tally, err)
	}
}

// Fresh tiles are asked for only when all are, and immutable ones not even then.
func TestWants(t *testing.T) {
	now := time.Now()
	fresh := store.Held{Tile: tiles.Tile{Origin: tiles.Origin{FreshUntil: now.Add(time.Hour)}}}
	settled, stale := fresh, fresh
	settled.Immutable = true
	stale.FreshUntil, stale.Immutable = now, true
	for name, c := range map[string]struct {
		held         store.Held
		asks, forced bool
	}{"fresh": {fresh, false, true}, "immutable and fresh (RFC 8246, 2)": {settled, false, false}, "immutable and stale": {stale, true, true}} {
		pairs := func(yield func(store.Pair, error) bool) { yield(store.Pair{Held: c.held, Has: true}, nil) }
		count := func(all bool) (n int) {
			for range fetch.Wants(pairs, &source.Terms{}, now, all) {
				n++
			}
			return n
		}
		if got, forced := count(false) == 1, count(true) == 1; got != c.asks || forced != c.forced {
			t.Errorf("%s: %v, forced %v", name, got, forced)
		}
	}
}
