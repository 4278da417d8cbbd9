package office

import (
	"context"
	"errors"
	"net/http"
	"os"
	"strings"
	"sync"
	"testing"
	"time"

	"groundsheet/tiles"
	"groundsheet/tiles/fetch"
	"groundsheet/tiles/source"
	"groundsheet/tiles/store"
)

func looking(t testing.TB, o Office) *Looks {
	l := NewLooks(o)
	t.Cleanup(l.Close)
	return l
}

func named(t testing.TB, o Office, name string) source.Source {
	t.Helper()
	c, err := o.Sources("")
	if err != nil {
		t.Fatal(err)
	}
	s, err := c.Find(name)
	if err != nil {
		t.Fatal(err)
	}
	return s
}

// square are n × n tiles of the practice town.
func square(n uint32) (ids []tiles.ID) {
	first := tiles.At(-140.5, 40.5, 19)
	for y := range n {
		for x := range n {
			ids = append(ids, tiles.ID{Z: 19, X: first.X + x, Y: first.Y + y})
		}
	}
	return ids
}

// lookAt looks at all tiles at once.
func lookAt(t testing.TB, l *Looks, s source.Source, ids []tiles.ID) (got []Look, errs []error) {
	t.Helper()
	got, errs = make([]Look, len(ids)), make([]error, len(ids))
	var all sync.WaitGroup
	for i, id := range ids {
		all.Go(func() { got[i], errs[i] = l.Tile(t.Context(), s, id) })
	}
	all.Wait()
	return got, errs
}

// TestLookFetchesOnce: tiles come through the store: the second look asks nobody, and
// the plan counts them as held.
func TestLookFetchesOnce(t *testing.T) {
	o, running := quiet(t, "")
	l, s, ids := looking(t, o), named(t, o, "town"), square(5)
	got, errs := lookAt(t, l, s, append(ids, ids...))
	for i := range got {
		if errs[i] != nil || got[i].Hole || len(got[i].Data) == 0 || got[i].Stale || got[i].ID != ids[i%len(ids)] {
			t.Fatalf("%+v, %v", got[i].ID, errs[i])
		}
	}
	n := running.Server.Counts().Requests
	if n != int64(len(ids)) {
		t.Errorf("%d requests for %d tiles", n, len(ids))
	}
	if _, errs = lookAt(t, looking(t, o), s, ids); errors.Join(errs...) != nil || running.Server.Counts().Requests != n {
		t.Errorf("held tiles were asked for: %v", errs)
	}
	st, err := o.NeedStore(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	defer st.Close()
	shelf, _ := st.Shelf(s.StoreName())
	if size, err := shelf.Size(t.Context()); err != nil || size.Tiles != int64(len(ids)) {
		t.Errorf("%+v, %v", size, err)
	}
}

// TestLookStale: a tile whose freshness has ended is shown as it is held, and said to be.
func TestLookStale(t *testing.T) {
	o, running := quiet(t, `keep_at_most = "1d"`)
	ids := square(1)
	if _, errs := lookAt(t, looking(t, o), named(t, o, "town"), ids); errs[0] != nil {
		t.Fatal(errs)
	}
	n := running.Server.Counts().Requests
	o.Fetch.Now = func() time.Time { return time.Now().Add(100 * time.Hour) }
	got, errs := lookAt(t, looking(t, o), named(t, o, "town"), ids)
	if errs[0] != nil || !got[0].Stale || len(got[0].Data) == 0 || running.Server.Counts().Requests != n {
		t.Errorf("%v, stale %v", errs, got[0].Stale)
	}
}

// TestLookRefused: no terms, outside the hours, the quota used up, the source down, a
// zoom that it does not have: each says why; nothing that is refused is asked for.
func TestLookRefused(t *testing.T) {
	noon := func() time.Time { return time.Date(2026, 5, 1, 12, 0, 0, 0, time.UTC) }
	for _, c := range []struct {
		name, terms, source, says string
		requests                  int64
		why                       fetch.Reason
	}{
		{"no terms", "", "bare", "states no terms", 0, ""},
		{"hours", "hours = [\"20:00-06:00\"]\ntime_zone = \"UTC\"", "town", "its terms do not allow this hour", 0, fetch.StopHours},
		{"quota", "tiles_per_day = 2", "town", "the 2 tiles a day of its terms are used up", 2, fetch.StopBudget},
	} {
		t.Run(c.name, func(t *testing.T) {
			o, running := quiet(t, c.terms)
			o.Fetch.Now = noon
			l, s := looking(t, o), named(t, o, c.source)
			for range 2 { // also when it is known already
				_, errs := lookAt(t, l, s, square(3))
				if err := errors.Join(errs...); err == nil || !strings.Contains(err.Error(), c.says) {
					t.Errorf("%v", err)
				} else if stop, ok := errors.AsType[*fetch.Stop](err); c.why != "" && (!ok || stop.Why != c.why || stop.Until.IsZero()) {
					t.Errorf("%+v", stop)
				}
			}
			if n := running.Server.Counts().Requests; n != c.requests {
				t.Errorf("%d requests", n)
			}
			if _, err := os.Stat(o.StoreAt); c.source == "bare" && !errors.Is(err, os.ErrNotExist) {
				t.Error("a store was made for a source without terms")
			}
		})
	}
	o, _ := quiet(t, "")
	l, s := looking(t, o), named(t, o, "town")
	if _, err := l.Tile(t.Context(), s, tiles.ID{Z: 23}); err == nil || !strings.Contains(err.Error(), "zooms 0 to 22") {
		t.Error(err)
	}
	s.URL = "http://127.0.0.1:1/{z}/{x}/{y}.jpg" // nobody answers there
	if _, errs := lookAt(t, l, s, square(3)); errors.Join(errs...) == nil || !errors.Is(errs[0], fetch.Failed) {
		t.Errorf("down: %v", errs)
	}
}

// TestLookBesidePack: looking while a pack of the same source runs keeps one lease, one
// pace and one budget, and both come to their end.
func TestLookBesidePack(t *testing.T) {
	o, running := quiet(t, "")
	o.Fetch.PassEvery = 500 * time.Millisecond
	dir := lotJob(t, "")
	w, err := o.Open(t.Context(), dir)
	if err != nil {
		t.Fatal(err)
	}
	defer w.Close()
	l, s := looking(t, o), named(t, o, "town")
	var beside sync.WaitGroup
	beside.Go(func() {
		if _, errs := lookAt(t, l, s, square(6)); errors.Join(errs...) != nil {
			t.Error(errs)
		}
	})
	packed := 0
	for p, err := range w.Pack(t.Context(), PackOptions{}) {
		if err != nil || p.Check.Verdict != "fit" {
			t.Fatal(err, p.Check)
		}
		packed++
	}
	beside.Wait()
	st, _ := o.NeedStore(t.Context())
	defer st.Close()
	shelf, _ := st.Shelf(s.StoreName())
	size, err := shelf.Size(t.Context())
	if n := running.Server.Counts().Requests; err != nil || packed != 1 || n != size.Tiles+size.Holes {
		t.Errorf("%d requests for %+v, %v", n, size, err)
	}
}

// TestLookNobodyWaits: what nobody waits for any more is not asked for.
func TestLookNobodyWaits(t *testing.T) {
	o, running := quiet(t, "")
	text, _ := os.ReadFile(o.SourcesFile)
	write(t, o.SourcesFile, strings.ReplaceAll(string(text), "requests_per_second = 2000", "requests_per_second = 2"))
	l, s := looking(t, o), named(t, o, "town")
	ctx, cancel := context.WithCancel(t.Context())
	var all sync.WaitGroup
	for _, id := range square(8) {
		all.Go(func() { _, _ = l.Tile(ctx, s, id) })
	}
	time.Sleep(300 * time.Millisecond)
	cancel()
	all.Wait()
	before := running.Server.Counts().Requests
	last := tiles.ID{Z: 12, X: 1, Y: 1}
	if got, err := l.Tile(t.Context(), s, last); err != nil && !got.Hole {
		t.Error(err)
	}
	if n := running.Server.Counts().Requests - before; n > 6 {
		t.Errorf("%d more requests were sent for tiles that nobody waits for", n)
	}
}

// TestLookHole: where the source has nothing, that is said, and not asked again.
func TestLookHole(t *testing.T) {
	o, _ := quiet(t, "")
	o.Fetch.Client = &http.Client{Transport: none{}}
	l, s := looking(t, o), named(t, o, "town")
	for range 2 {
		if got, err := l.Tile(t.Context(), s, square(1)[0]); err != nil || !got.Hole {
			t.Errorf("%+v, %v", got, err)
		}
	}
}

// none has no tile at all.
type none struct{}

func (none) RoundTrip(r *http.Request) (*http.Response, error) {
	return &http.Response{StatusCode: 404, Status: "404", Proto: "HTTP/1.1", ProtoMajor: 1, ProtoMinor: 1, Header: http.Header{}, Body: http.NoBody, Request: r}, nil
}

// TestLookOdd: an image that stands at distant places is named.
func TestLookOdd(t *testing.T) {
	o, _ := quiet(t, "")
	l, s, ids := looking(t, o), named(t, o, "town"), square(12)
	got, errs := lookAt(t, l, s, ids[:1])
	if errs[0] != nil || got[0].Odd != "" {
		t.Fatal(errs, got[0].Odd)
	}
	st, _ := o.NeedStore(t.Context())
	shelf, _ := st.Shelf(s.StoreName())
	var same []store.Held
	for _, id := range ids[1:] {
		rec := got[0].Held
		rec.ID = id
		same = append(same, rec)
	}
	if _, err := shelf.Keep(t.Context(), same); err != nil {
		t.Fatal(err)
	}
	_ = st.Close()
	if got, errs = lookAt(t, looking(t, o), s, ids[:1]); errs[0] != nil || !strings.Contains(got[0].Odd, "repeated at 144 places") {
		t.Errorf("%v %q", errs, got[0].Odd)
	}
}
