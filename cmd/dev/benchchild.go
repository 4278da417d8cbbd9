package main

import (
	"bytes"
	"context"
	"encoding/json"
	"fmt"
	"net"
	"net/http"
	"os"
	"slices"
	"strings"
	"sync"
	"testing/fstest"
	"time"

	"github.com/spf13/cobra"

	"groundsheet/serve"
	"groundsheet/serve/auth"
	"groundsheet/tiles"
	"groundsheet/tiles/fetch"
	"groundsheet/tiles/source"
	"groundsheet/tiles/store/folder"
)

// The hidden commands are the processes of a bench.
const (
	hiddenFetch  = "bench-process-fetch"
	hiddenServer = "bench-process-server"
	hiddenFiles  = "bench-process-files"
	hiddenField  = "bench-process-field"
	seenPath     = "/seen"
)

func hiddenCommands() []*cobra.Command {
	return []*cobra.Command{
		{Use: hiddenFetch + " TASK", Hidden: true, Args: cobra.ExactArgs(1), RunE: func(c *cobra.Command, args []string) error {
			var t fetchTask
			if err := json.Unmarshal([]byte(args[0]), &t); err != nil {
				return err
			}
			got, err := t.run(c.Context())
			if err != nil {
				return err
			}
			return json.NewEncoder(c.OutOrStdout()).Encode(got)
		}},
		{Use: hiddenServer + " DELAY", Hidden: true, Args: cobra.ExactArgs(1), RunE: func(_ *cobra.Command, args []string) error {
			delay, err := time.ParseDuration(args[0])
			if err != nil {
				return err
			}
			return serveWatched(delay)
		}},
		{Use: hiddenFiles + " DIR", Hidden: true, Args: cobra.ExactArgs(1), RunE: func(_ *cobra.Command, args []string) error {
			return listenAndTell(http.FileServer(http.Dir(args[0])))
		}},
		{Use: hiddenField + " PACK", Hidden: true, Args: cobra.ExactArgs(1), RunE: func(c *cobra.Command, args []string) error {
			return serveField(c.Context(), args[0])
		}},
	}
}

// fetchTask is what a measured process fetches.
type fetchTask struct {
	URL, Store  string
	Tiles       int
	Connections int
	Bare        bool    // by the bare loop that the fetcher is held beside
	PerSecond   float64 // 0 = no pace: this computer itself is asked
}

func (t fetchTask) run(ctx context.Context) (got fetched, err error) {
	if t.Bare {
		return t.bare(ctx)
	}
	st, err := folder.Open(t.Store)
	if err != nil {
		return got, err
	}
	shelf, err := st.Shelf("bench")
	if err != nil {
		return got, err
	}
	src := source.Source{
		Name: "bench", Kind: source.KindXYZ, URL: t.URL + "/{z}/{x}/{y}.jpg", Zooms: tiles.Zooms{Min: 0, Max: 22}, TileSize: 256,
		Terms: &source.Terms{Offline: source.OfflineAllowed, Reference: "this computer", Connections: t.Connections, RequestsPerSecond: max(t.PerSecond, 1)},
	}
	began := time.Now()
	tally, err := fetch.Run(ctx, src, shelf, func(yield func(fetch.Want, error) bool) {
		for n := range t.Tiles {
			if !yield(fetch.Want{ID: benchTile(n)}, nil) {
				return
			}
		}
	}, fetch.Options{Unpaced: t.PerSecond == 0})
	if err != nil {
		return got, err
	}
	got = fetched{New: tally.New, Seconds: time.Since(began).Seconds(), PeakMB: peakMB()}
	return got, st.Close()
}

// peakMB is the most memory that was resident, where the system tells
// (Linux: proc(5), VmHWM); 0 elsewhere.
func peakMB() float64 {
	text, err := os.ReadFile("/proc/self/status")
	if err != nil {
		return 0
	}
	_, after, _ := bytes.Cut(text, []byte("VmHWM:"))
	var kib float64
	if _, err := fmt.Sscan(string(after), &kib); err != nil {
		return 0
	}
	return kib * 1024 / 1e6
}

// seen is what the server saw of the requests for tiles.
type seen struct {
	Requests  int
	PerSecond float64 // from the first to the last
	Most      int     // in any one second
}

// watched serves tiles, each after a delay, and notes when they were asked for.
type watched struct {
	pictures pictures
	delay    time.Duration
	mu       sync.Mutex
	came     []time.Time
}

func (s *watched) ServeHTTP(w http.ResponseWriter, r *http.Request) {
	now := time.Now()
	if r.URL.Path == seenPath {
		s.mu.Lock()
		defer s.mu.Unlock()
		_ = json.NewEncoder(w).Encode(look(s.came)) // whoever asked sees what is missing
		return
	}
	id, err := tiles.ParseID(strings.TrimSuffix(strings.TrimPrefix(r.URL.Path, "/"), ".jpg"))
	if err != nil {
		http.NotFound(w, r)
		return
	}
	s.mu.Lock()
	s.came = append(s.came, now)
	s.mu.Unlock()
	time.Sleep(s.delay)
	w.Header().Set("Cache-Control", "max-age=3600")
	w.Header().Set("Content-Type", "image/jpeg")
	_, _ = w.Write(s.pictures.of(id))
}

// look counts. The window is half open: of two requests a second apart one is
// in it.
func look(came []time.Time) seen {
	came = slices.SortedFunc(slices.Values(came), time.Time.Compare)
	out := seen{Requests: len(came)}
	first := 0
	for i, at := range came {
		for at.Sub(came[first]) >= time.Second {
			first++
		}
		out.Most = max(out.Most, i-first+1)
	}
	if n := len(came); n > 1 {
		out.PerSecond = float64(n-1) / came[n-1].Sub(came[0]).Seconds()
	}
	return out
}

// serveWatched prints its address and serves until it is killed.
func serveWatched(delay time.Duration) error {
	p, err := newPictures()
	if err != nil {
		return err
	}
	return listenAndTell(&watched{pictures: p, delay: delay})
}

func listenAndTell(h http.Handler) error {
	l, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		return err
	}
	fmt.Println("http://" + l.Addr().String())
	return http.Serve(l, h) //nolint:gosec // loopback, and nobody else knows the port
}

// serveField is the field server as groundsheet serve runs it.
func serveField(ctx context.Context, path string) error {
	serve.SpareThread()
	s, err := serve.Open(ctx, []string{path}, serve.Options{Page: fstest.MapFS{"index.html": {}}})
	if err != nil {
		return err
	}
	defer s.Close() //nolint:errcheck // the process ends
	return s.Listen(ctx, "127.0.0.1:0", func(o auth.Opening) { fmt.Println("http://" + o.Addr.String()) })
}
