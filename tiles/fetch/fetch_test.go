package fetch_test

import (
	"errors"
	"fmt"
	"net/http"
	"slices"
	"strconv"
	"strings"
	"sync/atomic"
	"testing"
	"time"

	"groundsheet/tiles"
	"groundsheet/tiles/fetch"
	"groundsheet/tiles/source"
	"groundsheet/tiles/store"
)

func TestFetchKeepsWhatCame(t *testing.T) {
	jpg, png := picture(256, 1, true), picture(256, 2, false)
	h := serve(t, func(w http.ResponseWriter, r *http.Request) {
		w.Header().Set("ETag", `"v1"`)
		w.Header().Set("Last-Modified", "Sun, 06 Nov 1994 08:49:37 GMT")
		w.Header().Set("Cache-Control", "max-age=60")
		if strings.HasPrefix(r.URL.Path, "/20/1/") {
			w.Write(jpg)
			return
		}
		w.Write(png)
	})
	s := shelf(t)
	now := time.Now().UTC().Truncate(time.Second).Add(time.Hour)
	o := quick()
	o.Now = func() time.Time { return now }
	tally, err := run(h.fast(), s, row(3), o)
	if err != nil {
		t.Fatal(err)
	}
	size := int64(len(jpg) + 2*len(png))
	want := fetch.Tally{Wanted: 3, New: 3, Requests: 3, Bytes: size, Received: size}
	if tally != want {
		t.Errorf("tally %+v, want %+v", tally, want)
	}
	got := held(t, s)
	if len(got) != 3 || string(got[1].Data) != string(jpg) || got[1].Media != "jpg" || string(got[2].Data) != string(png) || got[2].Media != "png" {
		t.Fatalf("%d tiles held", len(got))
	}
	origin := tiles.Origin{Source: "county", Fetched: now, FreshUntil: now.Add(7 * 24 * time.Hour), ETag: `"v1"`, LastModified: "Sun, 06 Nov 1994 08:49:37 GMT"}
	if got[0].Origin != origin {
		t.Errorf("origin %+v, want %+v (kept at least 7 days)", got[0].Origin, origin)
	}
}

func TestEveryRequestSaysTheSame(t *testing.T) {
	var header atomic.Value
	h := serve(t, func(w http.ResponseWriter, r *http.Request) {
		header.Store(r.Header.Clone())
		w.Write(plain)
	})
	src := h.fast()
	src.Terms.Contact = "maps@office.example"
	if _, err := run(src, shelf(t), row(5), quick()); err != nil {
		t.Fatal(err)
	}
	if len(h.agents) != 1 || !h.agents["groundsheet/1.0 (maps@office.example)"] {
		t.Errorf("user agents %v", h.agents)
	}
	got := header.Load().(http.Header)
	want := http.Header{"User-Agent": {"groundsheet/1.0 (maps@office.example)"}, "Accept-Encoding": {"identity"},
		"Accept": {"image/png, image/jpeg, image/webp;q=0.9, */*;q=0.1"}}
	if fmt.Sprint(got) != fmt.Sprint(want) {
		t.Errorf("headers %v, want %v", got, want)
	}
	src.Terms.Contact = ""
	h.agents = map[string]bool{}
	if _, err := run(src, shelf(t), row(1), quick()); err != nil || !h.agents["groundsheet/1.0"] {
		t.Errorf("without contact: %v, %v", h.agents, err)
	}
}

func TestRefusedBeforeAnyRequest(t *testing.T) {
	h := serve(t, sends(plain))
	src := h.fast()
	src.Terms = nil
	_, err := run(src, shelf(t), row(3), quick())
	if !errors.Is(err, source.Refused) || h.requests() != 0 {
		t.Errorf("%v after %d requests, want a Refused before any", err, h.requests())
	}
}

func TestNothingWanted(t *testing.T) {
	h := serve(t, sends(nil))
	shown := 0
	o := quick()
	o.Progress = func(fetch.Tally) { shown++ }
	if tally, err := run(h.fast(), shelf(t), nil, o); err != nil || tally != (fetch.Tally{}) || h.requests() != 0 || shown != 1 {
		t.Errorf("%+v, %v, %d requests, shown %d times", tally, err, h.requests(), shown)
	}
}

func TestWantOutsideTheSourceEndsTheRun(t *testing.T) {
	h := serve(t, sends(plain))
	src := h.fast()
	src.Zooms.Max = 19
	_, err := run(src, shelf(t), row(1), quick())
	says(t, err, "zooms 0 to 19", "20/0/0")
	src = h.fast()
	src.URL, src.KeyEnv = h.URL+"/{q}?k={key}", "GS_NOT_SET"
	_, err = run(src, shelf(t), row(1), quick())
	says(t, err, "GS_NOT_SET")
	if h.requests() != 0 {
		t.Errorf("%d requests", h.requests())
	}
}

func TestUnchanged(t *testing.T) {
	var sent atomic.Value
	h := serve(t, func(w http.ResponseWriter, r *http.Request) {
		sent.Store(r.Header.Get("If-None-Match") + "," + r.Header.Get("If-Modified-Since"))
		w.Header().Set("ETag", `"v1"`)
		w.Header().Set("Cache-Control", "max-age=31536000")
		if r.Header.Get("If-None-Match") == `"v1"` {
			w.WriteHeader(304)
			return
		}
		w.Write(plain)
	})
	s := shelf(t)
	if _, err := run(h.fast(), s, row(1), quick()); err != nil {
		t.Fatal(err)
	}
	before := held(t, s)[0]
	later := before.Fetched.Add(time.Hour).Truncate(time.Second)
	o := quick()
	o.Now = func() time.Time { return later }
	before.LastModified = "Sun, 06 Nov 1994 08:49:37 GMT"
	want := fetch.Want{ID: before.ID, Held: before}
	tally, err := run(h.fast(), s, []fetch.Want{want}, o)
	if err != nil || tally != (fetch.Tally{Wanted: 1, Unchanged: 1, Requests: 1}) {
		t.Fatalf("%+v, %v", tally, err)
	}
	if sent.Load() != `"v1",Sun, 06 Nov 1994 08:49:37 GMT` {
		t.Errorf("validators sent: %v", sent.Load())
	}
	after := held(t, s)[0]
	// The answer's own Date is an hour behind this clock: an age of an hour.
	fresh := after.FreshUntil.Sub(later)
	if string(after.Data) != string(before.Data) || after.Fetched != later || fresh < 364*24*time.Hour ||
		after.ETag != `"v1"` || after.LastModified != before.LastModified {
		t.Errorf("after 304: %+v, fresh %v", after.Origin, fresh)
	}
}

// A 304 that does not answer our validators confirms nothing: the tile is
// asked for outright.
func TestUnaskedUnchanged(t *testing.T) {
	for name, etag := range map[string]string{"nothing held": "", "another tag": `"mine"`} {
		t.Run(name, func(t *testing.T) {
			n := atomic.Int32{}
			h := serve(t, func(w http.ResponseWriter, r *http.Request) {
				w.Header().Set("ETag", `"other"`)
				if n.Add(1) == 1 {
					w.WriteHeader(304)
					return
				}
				if r.Header.Get("If-None-Match") != "" {
					t.Error("asked again with validators")
				}
				w.Write(plain)
			})
			s := shelf(t)
			tally, err := run(h.fast(), s, []fetch.Want{heldWith(tiles.ID{Z: 20}, etag)}, quick())
			if err != nil || tally.New != 1 || tally.Unchanged != 0 || tally.Retries != 1 || len(held(t, s)) != 1 {
				t.Errorf("%+v, %v", tally, err)
			}
		})
	}
}

func TestHoles(t *testing.T) {
	for _, status := range []int{204, 404, 410} {
		t.Run(strconv.Itoa(status), func(t *testing.T) {
			h := serve(t, func(w http.ResponseWriter, r *http.Request) { w.WriteHeader(status) })
			s := shelf(t)
			now := time.Now().UTC().Truncate(time.Second)
			o := quick()
			o.Now = func() time.Time { return now }
			tally, err := run(h.fast(), s, row(2), o)
			if err != nil || tally != (fetch.Tally{Wanted: 2, Absent: 2, Requests: 2}) {
				t.Fatalf("%+v, %v", tally, err)
			}
			for _, r := range held(t, s) {
				if !r.Hole || r.FreshUntil != now.Add(7*24*time.Hour) || r.Source != "county" {
					t.Errorf("%+v", r)
				}
			}
		})
	}
}

// missing are the wants that the shelf does not answer.
func missing(t *testing.T, s store.Shelf, wants []fetch.Want) []fetch.Want {
	have := map[tiles.ID]bool{}
	for _, r := range held(t, s) {
		have[r.ID] = true
	}
	return slices.DeleteFunc(slices.Clone(wants), func(w fetch.Want) bool { return have[w.ID] })
}

func TestSecondRunWantsNothing(t *testing.T) {
	h := serve(t, func(w http.ResponseWriter, r *http.Request) {
		if strings.HasPrefix(r.URL.Path, "/20/7/") {
			http.NotFound(w, r)
			return
		}
		w.Write(plain)
	})
	s := shelf(t)
	if tally, err := run(h.fast(), s, row(30), quick()); err != nil || tally.New != 29 || tally.Absent != 1 {
		t.Fatalf("%+v, %v", tally, err)
	}
	before := h.requests()
	tally, err := run(h.fast(), s, missing(t, s, row(30)), quick())
	if err != nil || tally != (fetch.Tally{}) || h.requests() != before {
		t.Errorf("second run: %+v, %v, %d more requests", tally, err, h.requests()-before)
	}
}
