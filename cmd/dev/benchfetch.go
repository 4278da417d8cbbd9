package main

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"time"
)

// What fetching must show.
const (
	leastOfCurl    = 0.75 // of the rate of curl that throws the bytes away
	leastOfCeiling = 0.95 // of connections ÷ delay
	leastOfRate    = 0.97 // of the rate that the terms state
	mostMemory     = 50.0 // MB resident
	mostGrowth     = 1.25 // peak memory of the largest job against the smallest
	serverDelay    = 40 * time.Millisecond
	curlParallel   = 16
)

// fetchBench measures fetching. Only ratios within one run mean something:
// absolute figures depend on the machine.
type fetchBench struct {
	dir, exe    string // scratch folder; this program, whose hidden commands are measured
	tiles       int
	rounds      int
	seconds     int   // that one measurement with a delay or a rate takes
	rates       []int // requests a second that the terms allow
	connections []int // with the delay
	memory      []int // tiles in a job
	aims
}

// aims prints what was measured, and remembers which aims were missed.
type aims struct {
	out    io.Writer
	missed []string
}

func (b *fetchBench) run(ctx context.Context) error {
	if err := os.RemoveAll(b.dir); err != nil {
		return err
	}
	defer os.RemoveAll(b.dir) //nolint:errcheck // what cannot be removed is removed by the next run
	if err := os.MkdirAll(b.dir, 0o755); err != nil {
		return err
	}
	for _, part := range []func(context.Context) error{b.againstCurl, b.withDelay, b.withRate, b.withMore} {
		if err := part(ctx); err != nil {
			return err
		}
	}
	return nil
}

// aim prints whether an aim is met.
func (b *aims) aim(holds bool, format string, args ...any) {
	text, word := fmt.Sprintf(format, args...), "holds "
	if !holds {
		word, b.missed = "MISSED", append(b.missed, text)
	}
	fmt.Fprintf(b.out, "  %s  %s\n", word, text)
}

// againstCurl measures in rounds, in turning order, so that a slow minute of
// the machine meets all three.
func (b *fetchBench) againstCurl(ctx context.Context) error {
	fmt.Fprintf(b.out, "making %d tiles\n", b.tiles)
	mean, err := writeTiles(filepath.Join(b.dir, "tiles"), b.tiles)
	if err != nil {
		return err
	}
	server, err := startNginx(ctx, b.dir)
	if err != nil {
		return err
	}
	defer server.stop() //nolint:errcheck // killed on purpose
	fmt.Fprintf(b.out, "%d JPEG tiles of %.1f KB on average from nginx on loopback, %d at once\n", b.tiles, mean/1000, curlParallel)
	fmt.Fprintln(b.out, "round   curl to nothing   curl to files   fetched and kept   a bare loop (tiles/s)")
	runs := []func(context.Context, string) (spent, error){b.curlAway, b.curlFiles, b.fetchAll, b.fetchBare}
	var all [4][]spent
	for round := range b.rounds {
		var now [4]spent
		for i := range runs {
			which := (i + round) % len(runs)
			if round%2 == 1 {
				which = (len(runs) - 1 - i + round) % len(runs)
			}
			if now[which], err = runs[which](ctx, server.url); err != nil {
				return err
			}
			all[which] = append(all[which], now[which])
		}
		fmt.Fprintf(b.out, "%5d %17.0f %15.0f %18.0f %13.0f\n", round+1, b.rate(now[0]), b.rate(now[1]), b.rate(now[2]), b.rate(now[3]))
	}
	b.compare(all)
	return nil
}

func (b *fetchBench) rate(s spent) float64 { return float64(b.tiles) / s.wall.Seconds() }

func (b *fetchBench) compare(all [4][]spent) {
	var away, files, bare, bareAway []float64
	for i, ours := range all[2] {
		away = append(away, b.rate(ours)/b.rate(all[0][i]))
		files = append(files, b.rate(ours)/b.rate(all[1][i]))
		bare = append(bare, b.rate(ours)/b.rate(all[3][i]))
		bareAway = append(bareAway, b.rate(all[3][i])/b.rate(all[0][i]))
	}
	peak := 0.0
	for _, s := range all[2] {
		peak = max(peak, s.peak)
	}
	cpu := func(runs []spent) float64 {
		var each []float64
		for _, s := range runs {
			each = append(each, s.cpu.Seconds())
		}
		return median(each)
	}
	fmt.Fprintf(b.out, "processor time (median): curl to nothing %.2f s, curl to files %.2f s, ours %.2f s\n", cpu(all[0]), cpu(all[1]), cpu(all[2]))
	b.aim(median(away) >= leastOfCurl, "%.2f of curl to nothing (median; aim %.2f)", median(away), leastOfCurl)
	fmt.Fprintf(b.out, "  a bare loop that proves nothing and keeps no records: %.2f of curl to nothing; ours %.2f of it (medians)\n", median(bareAway), median(bare))
	b.aim(median(files) > 1, "%.2f of curl to files (median; aim above 1)", median(files))
	b.aim(peak < mostMemory, "%.1f MB resident at most (aim below %.0f MB)", peak, mostMemory)
}

// withDelay has the server wait before each answer.
func (b *fetchBench) withDelay(ctx context.Context) error {
	server, err := b.startServer(ctx, serverDelay)
	if err != nil {
		return err
	}
	defer server.stop() //nolint:errcheck // killed on purpose
	fmt.Fprintf(b.out, "every answer %v late\n", serverDelay)
	for _, n := range b.connections {
		ceiling := float64(n) / serverDelay.Seconds()
		got, err := b.fetch(ctx, fetchTask{URL: server.url, Tiles: max(int(ceiling)*b.seconds, n), Connections: n})
		if err != nil {
			return err
		}
		rate := float64(got.New) / got.Seconds
		b.aim(rate >= leastOfCeiling*ceiling, "%d connections: %.0f tiles/s, %.3f of connections ÷ delay (aim %.2f)", n, rate, rate/ceiling, leastOfCeiling)
	}
	return nil
}

// withRate states a rate in the terms and looks at what the server saw.
func (b *fetchBench) withRate(ctx context.Context) error {
	for _, rate := range b.rates {
		if err := b.oneRate(ctx, rate); err != nil {
			return err
		}
	}
	return nil
}

func (b *fetchBench) oneRate(ctx context.Context, rate int) error {
	server, err := b.startServer(ctx, 0)
	if err != nil {
		return err
	}
	defer server.stop() //nolint:errcheck // killed on purpose
	if _, err := b.fetch(ctx, fetchTask{URL: server.url, Tiles: 2 * rate * b.seconds, Connections: curlParallel, PerSecond: float64(rate)}); err != nil {
		return err
	}
	body, err := get(ctx, server.url+seenPath)
	if err != nil {
		return err
	}
	var seen seen
	if err := json.Unmarshal(body, &seen); err != nil {
		return err
	}
	b.aim(seen.PerSecond >= leastOfRate*float64(rate) && seen.PerSecond <= float64(rate),
		"terms of %d/s: the server saw %.2f/s, %.3f of it (aim %.2f to 1)", rate, seen.PerSecond, seen.PerSecond/float64(rate), leastOfRate)
	b.aim(seen.Most <= rate, "terms of %d/s: at most %d in any one second", rate, seen.Most)
	return nil
}

// withMore shows that memory does not grow with the job.
func (b *fetchBench) withMore(ctx context.Context) error {
	server, err := b.startServer(ctx, 0)
	if err != nil {
		return err
	}
	defer server.stop() //nolint:errcheck // killed on purpose
	var peaks []float64
	for _, n := range b.memory {
		got, err := b.fetch(ctx, fetchTask{URL: server.url, Tiles: n, Connections: curlParallel})
		if err != nil {
			return err
		}
		fmt.Fprintf(b.out, "%6d tiles: %.1f MB resident at most\n", n, got.PeakMB)
		peaks = append(peaks, got.PeakMB)
	}
	if len(peaks) == 0 {
		return nil
	}
	growth := peaks[len(peaks)-1] / peaks[0]
	b.aim(growth <= mostGrowth && slices.Max(peaks) < mostMemory, "memory grows %.2f-fold from %d to %d tiles (aim up to %.2f, and below %.0f MB)",
		growth, b.memory[0], b.memory[len(b.memory)-1], mostGrowth, mostMemory)
	return nil
}

func median(of []float64) float64 {
	of = slices.Sorted(slices.Values(of))
	if n := len(of); n%2 == 0 && n > 0 {
		return (of[n/2-1] + of[n/2]) / 2
	} else if n > 0 {
		return of[n/2]
	}
	return 0
}

// fetchAll fetches every tile into a fresh store.
func (b *fetchBench) fetchAll(ctx context.Context, url string) (spent, error) {
	return b.whole(ctx, fetchTask{URL: url, Tiles: b.tiles, Connections: curlParallel})
}

// fetchBare is the same by the bare loop.
func (b *fetchBench) fetchBare(ctx context.Context, url string) (spent, error) {
	return b.whole(ctx, fetchTask{URL: url, Tiles: b.tiles, Connections: curlParallel, Bare: true})
}

func (b *fetchBench) whole(ctx context.Context, t fetchTask) (spent, error) {
	got, err := b.fetch(ctx, t)
	if err == nil && got.New != b.tiles {
		err = errors.New(strconv.Itoa(got.New) + " tiles came, all were wanted")
	}
	return got.spent, err
}
