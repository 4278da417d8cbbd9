//go:build soak

package main

import (
	"bufio"
	"context"
	"encoding/json"
	"fmt"
	"net"
	"net/http"
	"net/http/httptest"
	"strings"
	"sync/atomic"
	"testing"
	"time"
)

// samplesOf are samples of memory, ten seconds from each to the next.
func samplesOf(megabytes ...float64) (all []sample) {
	for i, mb := range megabytes {
		all = append(all, sample{at: time.Duration(i) * 10 * time.Second, memory: int64(mb * 1e6)})
	}
	return all
}

func TestSteady(t *testing.T) {
	repeat := func(n int, f func(int) float64) (all []float64) {
		for i := range n {
			all = append(all, f(i))
		}
		return all
	}
	for name, c := range map[string]struct {
		memory []float64
		ok     bool
	}{
		"flat":                  {repeat(60, func(int) float64 { return 40 }), true},
		"warms up, then flat":   {repeat(60, func(i int) float64 { return min(10+float64(i)*2, 40) }), true},
		"up and down":           {repeat(60, func(i int) float64 { return 40 + float64(i%5)*4 }), true},
		"one peak at the end":   {append(repeat(59, func(int) float64 { return 40 }), 90), true},
		"grows all the time":    {repeat(60, func(i int) float64 { return 40 + float64(i) }), false},
		"grows at the end":      {repeat(60, func(i int) float64 { return 40 + max(0, float64(i-40))*3 }), false},
		"short, warming up":     {repeat(6, func(i int) float64 { return 10 + float64(i)*5 }), true},
		"short, far too much":   {repeat(6, func(i int) float64 { return 10 + float64(i)*20 }), false},
		"too short to be asked": {nil, true},
	} {
		if err := steady(samplesOf(c.memory...)); (err == nil) != c.ok {
			t.Errorf("%s: %v", name, err)
		}
	}
	if _, _, perMinute := growth(samplesOf(repeat(60, func(i int) float64 { return float64(i) })...)); perMinute < 5.9e6 || perMinute > 6.1e6 {
		t.Errorf("%v bytes a minute, 6e6 are told", perMinute)
	}
}

// TestSentence: the worked example of how a checksum is made, and our own
// sentences by the same rule.
func TestSentence(t *testing.T) {
	sum := func(s string) (want, got string) {
		body, told, _ := strings.Cut(strings.TrimPrefix(strings.TrimSpace(s), "$"), "*")
		var v byte
		for i := range len(body) {
			v ^= body[i]
		}
		return told, fmt.Sprintf("%02X", v)
	}
	for n := range 50 {
		s := sentence(time.Unix(int64(n), 0), n)
		if told, is := sum(s); told != is || !strings.HasSuffix(s, "\r\n") || strings.Count(s, ",") != 14 || len(s) > 82 {
			t.Errorf("%q", s)
		}
	}
}

// TestSoakFeed: cut, nobody gets in and whoever was in is out; restored, it is
// at the same address.
func TestSoakFeed(t *testing.T) {
	f, err := newSoakFeed(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	addr := f.addr
	for range 2 {
		c, err := net.Dial("tcp", addr)
		if err != nil {
			t.Fatal(err)
		}
		lines := bufio.NewScanner(c)
		if !lines.Scan() || !strings.HasPrefix(lines.Text(), "$GPGGA,") {
			t.Fatalf("%q %v", lines.Text(), lines.Err())
		}
		f.cut()
		for lines.Scan() {
		}
		c.Close()
		if c, err := net.Dial("tcp", addr); err == nil {
			c.Close()
			t.Fatal("it lets in while it is cut off")
		}
		if err := f.restore(t.Context()); err != nil {
			t.Fatal(err)
		}
	}
	f.cut()
}

// fieldStand stands for a field server that can go wrong in one way.
func fieldStand(t *testing.T, tile func(n int64) int) *httptest.Server {
	t.Helper()
	var n atomic.Int64
	mux := http.NewServeMux()
	doc := func(path string, v any) {
		mux.HandleFunc("GET "+path, func(w http.ResponseWriter, _ *http.Request) { _ = json.NewEncoder(w).Encode(v) })
	}
	h := httptest.NewServer(mux)
	t.Cleanup(h.Close)
	mux.HandleFunc("GET /", func(http.ResponseWriter, *http.Request) {})
	doc("/packs.json", map[string]any{"packs": []any{map[string]any{"id": "one", "about": "/about.json"}}})
	doc("/about.json", map[string]any{"tilejson": "/tilejson.json", "overlays": "/overlays.json"})
	doc("/overlays.json", map[string]any{"overlays": []any{}})
	doc("/tilejson.json", map[string]any{"tiles": []string{h.URL + "/tiles/{z}/{x}/{y}"}, "minzoom": 3, "maxzoom": 5, "bounds": []float64{1, 1, 2, 2}})
	mux.HandleFunc("GET /tiles/{z}/{x}/{y}", func(w http.ResponseWriter, r *http.Request) {
		w.Header().Set("ETag", `"a"`)
		if r.Header.Get("If-None-Match") == `"a"` {
			w.WriteHeader(http.StatusNotModified)
			return
		}
		w.WriteHeader(tile(n.Add(1)))
	})
	return h
}

// TestPhoneSeesFaults: an answer that a map cannot use is a fault; a tile of a
// version that is gone has the page opened again.
func TestPhoneSeesFaults(t *testing.T) {
	for name, c := range map[string]struct {
		tile   func(int64) int
		faults bool
	}{
		"well":     {func(int64) int { return 200 }, false},
		"holes":    {func(int64) int { return 204 }, false},
		"gone":     {func(n int64) int { return map[bool]int{true: 410, false: 200}[n == 5] }, false},
		"broken":   {func(n int64) int { return map[bool]int{true: 500, false: 200}[n == 5] }, true},
		"busy":     {func(n int64) int { return map[bool]int{true: 503, false: 200}[n == 5] }, true},
		"not here": {func(n int64) int { return map[bool]int{true: 404, false: 200}[n == 5] }, true},
	} {
		h := fieldStand(t, c.tile)
		tally := &soakTally{}
		ctx, cancel := context.WithTimeout(t.Context(), time.Minute)
		enough := make(chan struct{})
		go func() {
			defer close(enough)
			for ctx.Err() == nil && tally.requests.Load() < 24 {
				pause(ctx, 20*time.Millisecond)
			}
			cancel()
		}()
		newPhone(h.URL, 1, tally).live(ctx)
		<-enough
		if (tally.broken > 0) != c.faults || tally.requests.Load() < 24 {
			t.Errorf("%s: %d requests, faults %q", name, tally.requests.Load(), tally.faults)
		}
		if name == "gone" && tally.gone.Load() == 0 {
			t.Error("the answer 410 was not seen")
		}
	}
}

// TestHostileFaults: slow answers, memory, newcomers left out and broken answers are each told, and
// what is slow without a hostile phone is held against nobody.
func TestHostileFaults(t *testing.T) {
	well := func(kind string) hostileResult {
		return hostileResult{kind: kind, tally: &soakTally{slow: []time.Duration{time.Millisecond}}, memory: 60e6, came: 9, let: 9, nearlyAll: 40 * time.Millisecond}
	}
	for name, c := range map[string]struct {
		spoil func(alone, beside *hostileResult)
		want  string
	}{
		"well":              {func(*hostileResult, *hostileResult) {}, ""},
		"slow":              {func(_, b *hostileResult) { b.nearlyAll = 161 * time.Millisecond }, "161ms"},
		"slow alone too":    {func(a, b *hostileResult) { a.nearlyAll, b.nearlyAll = 99*time.Millisecond, 300*time.Millisecond }, ""},
		"memory":            {func(_, b *hostileResult) { b.memory = 300e6 }, "300 MB"},
		"a newcomer is out": {func(_, b *hostileResult) { b.let = 8 }, "8 of 9"},
		"nobody came":       {func(_, b *hostileResult) { b.came, b.let = 0, 0 }, "0 of 0"},
		"no answers":        {func(_, b *hostileResult) { b.tally.slow = nil }, "0 answers"},
		"faults":            {func(_, b *hostileResult) { b.tally.fault("a tile is broken") }, "a tile is broken"},
	} {
		alone, beside := well("nobody"), well("somebody")
		c.spoil(&alone, &beside)
		errs := hostileFaults([]hostileResult{alone, beside})
		if len(errs) > 1 || (len(errs) == 0) != (c.want == "") || c.want != "" && !strings.Contains(errs[0].Error(), c.want) {
			t.Errorf("%s: %v", name, errs)
		}
	}
}

// TestCalm: what stays after the phones went is told.
func TestCalm(t *testing.T) {
	goroutines := 100
	h := httptest.NewServer(http.HandlerFunc(func(w http.ResponseWriter, _ *http.Request) {
		goroutines -= 10
		fmt.Fprintf(w, `{"process":{"goroutines":%d,"open_files":10}}`, max(goroutines, 50))
	}))
	defer h.Close()
	if _, err := calm(t.Context(), h.URL, sample{goroutines: 48, files: 9}, 30*time.Second); err != nil {
		t.Error(err)
	}
	if _, err := calm(t.Context(), h.URL, sample{goroutines: 20, files: 9}, time.Second); err == nil {
		t.Error("30 goroutines that stay are not seen")
	}
	if _, err := calm(t.Context(), h.URL, sample{goroutines: 50, files: 2}, time.Second); err == nil {
		t.Error("8 files that stay are not seen")
	}
}

func TestWithout(t *testing.T) {
	var b strings.Builder
	w := &without{to: &b, words: "known"}
	for _, part := range []string{"one\nit is kn", "own\ntw", "o\nthree known\n", "four\n"} {
		if n, err := w.Write([]byte(part)); n != len(part) || err != nil {
			t.Fatal(n, err)
		}
	}
	if b.String() != "one\ntwo\nfour\n" {
		t.Errorf("%q", b.String())
	}
}
