package main

import (
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"net/http"
	"net/http/httptest"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"groundsheet/tiles"
	"groundsheet/tiles/discover"
	"groundsheet/tiles/fetch"
	"groundsheet/tiles/source"
	"groundsheet/tiles/store/folder"
)

// What fetching must show.
const (
	leastOfCurl    = 0.75 // of the rate of curl that throws the bytes away
	leastOfCeiling = 0.95 // of connections ÷ delay
	leastOfRate    = 0.97 // of the rate that the terms state
	mostMemory     = 50.0 // MB resident
	mostGrowth     = 1.25 // of memory, for a job of four times the tiles
	serverDelay    = 40 * time.Millisecond
	curlParallel   = 16
)

// fetchSizes are how much a bench of fetching does.
type fetchSizes struct {
	tiles, rounds int
	seconds       int   // that one measurement with a delay or a rate takes
	rates         []int // requests a second that the terms allow
	connections   []int // with the delay
}

func benchFetch(ctx context.Context, r repo) error {
	return inScratch(r, "fetch", func(b *bench) error {
		return b.fetching(ctx, fetchSizes{tiles: 20000, rounds: 6, seconds: 5, rates: []int{50, 200}, connections: []int{2, 8, 16}})
	})
}

func (b *bench) fetching(ctx context.Context, s fetchSizes) error {
	if err := b.againstCurl(ctx, s); err != nil {
		return err
	}
	for _, n := range s.connections { // the server waits before each answer
		ceiling := float64(n) / serverDelay.Seconds()
		got, err := b.fetchFrom(ctx, serverDelay, fetchTask{Tiles: max(int(ceiling)*s.seconds, n), Connections: n})
		if err != nil {
			return err
		}
		b.aim(got.rate() >= leastOfCeiling*ceiling, "%d connections, answers after %v: %.0f tiles/s, %.3f of connections ÷ delay (aim %.2f)",
			n, serverDelay, got.rate(), got.rate()/ceiling, leastOfCeiling)
	}
	for _, rate := range s.rates { // that no rate is exceeded is tested in tiles/fetch
		got, err := b.fetchFrom(ctx, 0, fetchTask{Tiles: 2 * rate * s.seconds, Connections: curlParallel, PerSecond: float64(rate)})
		if err != nil {
			return err
		}
		b.aim(got.rate() >= leastOfRate*float64(rate), "terms of %d/s: %.2f/s, %.3f of it (aim %.2f)", rate, got.rate(), got.rate()/float64(rate), leastOfRate)
	}
	return b.flatMemory(ctx, s.tiles)
}

// againstCurl fetches the same tiles with curl and into a store.
func (b *bench) againstCurl(ctx context.Context, s fetchSizes) error {
	mean, err := writeTiles(filepath.Join(b.dir, "tiles"), s.tiles)
	if err != nil {
		return err
	}
	server, err := startNginx(ctx, b.dir)
	if err != nil {
		return err
	}
	defer server.kill()
	fmt.Fprintf(b.out, "%d JPEG tiles of %.1f KB on average from nginx on loopback, %d at once, %d rounds\n", s.tiles, mean/1000, curlParallel, s.rounds)
	all, err := inTurn(s.rounds, 3, func(which int) (spent, error) {
		switch which {
		case 0:
			return b.curl(ctx, server.url, s.tiles, func(int) string { return os.DevNull })
		case 1:
			files := filepath.Join(b.dir, "files")
			defer os.RemoveAll(files) //nolint:errcheck // the scratch folder goes at the end
			return b.curl(ctx, server.url, s.tiles, func(n int) string { return filepath.Join(files, fmt.Sprint(n, ".jpg")) })
		}
		got, err := b.fetch(ctx, fetchTask{URL: server.url, Tiles: s.tiles, Connections: curlParallel})
		return got.spent, err
	})
	if err != nil {
		return err
	}
	rate := func(s spent) float64 { return 1 / s.wall.Seconds() }
	away, files := ratios(all[2], all[0], rate), ratios(all[2], all[1], rate)
	b.aim(away >= leastOfCurl, "fetched and kept at %.2f of curl to nothing (median; aim %.2f)", away, leastOfCurl)
	b.aim(files > 1, "at %.2f of curl to files (median; aim above 1)", files)
	for which, name := range []string{"curl to nothing", "curl to files", "fetched and kept"} {
		last := all[which][len(all[which])-1]
		fmt.Fprintf(b.out, "          %-16s %5.0f tiles/s, %.2f s of processor in the last round\n", name, float64(s.tiles)/last.wall.Seconds(), last.cpu.Seconds())
	}
	return nil
}

// flatMemory shows that memory does not grow with the job.
func (b *bench) flatMemory(ctx context.Context, n int) error {
	small, err := b.fetchFrom(ctx, 0, fetchTask{Tiles: n, Connections: curlParallel})
	if err != nil {
		return err
	}
	large, err := b.fetchFrom(ctx, 0, fetchTask{Tiles: 4 * n, Connections: curlParallel})
	if err != nil {
		return err
	}
	b.aim(large.peak <= mostGrowth*small.peak && large.peak < mostMemory, "%.1f MB resident for %d tiles, %.1f MB for %d (aim up to %.2f of it, and below %.0f MB)",
		small.peak, n, large.peak, 4*n, mostGrowth, mostMemory)
	return nil
}

// curl asks for every tile; the addresses are in a config file.
func (b *bench) curl(ctx context.Context, url string, n int, output func(int) string) (spent, error) {
	var config strings.Builder
	for n := range n {
		fmt.Fprintf(&config, "url = \"%s/%s.jpg\"\noutput = \"%s\"\n", url, benchTile(n), filepath.ToSlash(output(n)))
	}
	path := filepath.Join(b.dir, "curl.config")
	if err := os.WriteFile(path, []byte(config.String()), 0o644); err != nil {
		return spent{}, err
	}
	return timed(exec.CommandContext(ctx, "curl", "--silent", "--show-error", "--fail", "--create-dirs",
		"--parallel", "--parallel-max", fmt.Sprint(curlParallel), "--config", path))
}

// fetchTask is what a measured process fetches.
type fetchTask struct {
	URL, Store  string
	Tiles       int
	Connections int
	PerSecond   float64 // 0 = no pace: this computer itself is asked
	KeepStore   bool    // the bench looks at it afterwards
	Picture     string  // instead of a URL: a picture of one's own
	Side        int     // with Picture: so many tiles wide and high, from rasterFirst on
}

// fetched is what a process that fetched reports, and what it took.
type fetched struct {
	New     int     // tiles kept
	Seconds float64 // of fetching alone
	// MB resident of the children: the largest, for each that runs at once
	Children float64
	spent    `json:"-"`
}

func (f fetched) rate() float64 { return float64(f.New) / f.Seconds }

// fetchFrom fetches from a server in this process that answers after a delay.
func (b *bench) fetchFrom(ctx context.Context, delay time.Duration, t fetchTask) (fetched, error) {
	p, err := newPictures()
	if err != nil {
		return fetched{}, err
	}
	server := httptest.NewServer(http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		id, err := tiles.ParseID(strings.TrimSuffix(strings.TrimPrefix(r.URL.Path, "/"), ".jpg"))
		if err != nil {
			http.NotFound(w, r)
			return
		}
		time.Sleep(delay)
		w.Header().Set("Cache-Control", "max-age=3600")
		w.Header().Set("Content-Type", "image/jpeg")
		_, _ = w.Write(p.of(id))
	}))
	defer server.Close()
	t.URL = server.URL
	got, err := b.fetch(ctx, t)
	if !t.KeepStore {
		err = errors.Join(err, os.RemoveAll(filepath.Join(b.dir, "store")))
	}
	return got, err
}

// fetch runs a task into an empty store in a process of its own, so that its
// processor time and its memory are no one else's.
func (b *bench) fetch(ctx context.Context, t fetchTask) (got fetched, err error) {
	t.Store = filepath.Join(b.dir, "store")
	if err := os.RemoveAll(t.Store); err != nil {
		return got, err
	}
	task, err := json.Marshal(t)
	if err != nil {
		return got, err
	}
	c := exec.CommandContext(ctx, b.dev, hiddenFetch, string(task))
	var out bytes.Buffer
	c.Stdout = &out
	took, err := timed(c)
	if err != nil {
		return got, err
	}
	if err := json.Unmarshal(out.Bytes(), &got); err != nil {
		return got, fmt.Errorf("%w in %q", err, out.String())
	}
	if got.spent = took; got.New != t.Tiles {
		return got, fmt.Errorf("%d tiles came, %d were wanted", got.New, t.Tiles)
	}
	return got, nil
}

const hiddenFetch = "bench-process-fetch"

// fetchProcess is the hidden command that fetches.
func fetchProcess() *cobra.Command {
	return &cobra.Command{Use: hiddenFetch + " TASK", Hidden: true, Args: cobra.ExactArgs(1), RunE: func(c *cobra.Command, args []string) error {
		var t fetchTask
		if err := json.Unmarshal([]byte(args[0]), &t); err != nil {
			return err
		}
		got, err := t.run(c.Context())
		if err != nil {
			return err
		}
		return json.NewEncoder(c.OutOrStdout()).Encode(got)
	}}
}

func (t fetchTask) run(ctx context.Context) (got fetched, err error) {
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
	if t.Picture != "" {
		src.Kind, src.URL, src.File = source.KindRaster, "", t.Picture
	}
	src, client, done, err := discover.Open(ctx, src, discover.Options{})
	if err != nil {
		return got, err
	}
	defer func() { err = errors.Join(err, done()) }()
	began := time.Now()
	tally, err := fetch.Run(ctx, src, shelf, func(yield func(fetch.Want, error) bool) {
		for n := range t.Tiles {
			if !yield(fetch.Want{ID: t.tile(n)}, nil) {
				return
			}
		}
	}, fetch.Options{Unpaced: t.PerSecond == 0, Client: client})
	if err != nil {
		return got, err
	}
	got = fetched{New: tally.New, Seconds: time.Since(began).Seconds(), Children: float64(t.Connections) * childMemory()}
	return got, st.Close()
}

// tile is the n-th tile of a task, in tile order.
func (t fetchTask) tile(n int) tiles.ID {
	if t.Picture == "" {
		return benchTile(n)
	}
	return tiles.ID{Z: rasterZoom, X: rasterFirst.X + uint32(n%t.Side), Y: rasterFirst.Y + uint32(n/t.Side)}
}
