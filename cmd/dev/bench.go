package main

import (
	"context"
	"errors"
	"fmt"
	"os"

	"github.com/spf13/cobra"
)

// The named benches compare with outside programs; the others are Go benchmarks.
const (
	namedFetch = "fetch"
	namedServe = "serve"
	namedPage  = "page"
)

func benchCommand() *cobra.Command {
	return &cobra.Command{
		Use: "bench [PATTERN | fetch | serve | page]", Short: "Run the benchmarks, or those whose name matches", Args: cobra.MaximumNArgs(1),
		Long: `bench runs Go benchmarks. bench fetch measures fetching into the office store
against curl in the same run, with nginx on this machine; it takes some minutes
and 3 GB of room for a while. bench serve measures the field server against Go's
own file server and nginx in the same run, asked by wrk; it takes some minutes and
1 GB of room. bench page measures the map page in Chromium with the processor
slowed down four times: the first picture over 10 Mbit/s, and the longest frames
while the map moves over 100,000 readings.`,
		RunE: func(c *cobra.Command, args []string) error {
			pattern := "."
			if len(args) == 1 {
				pattern = args[0]
			}
			return withRoot(c.Context(), func(ctx context.Context, r repo) error {
				switch pattern {
				case namedFetch:
					return benchFetch(ctx, r)
				case namedServe:
					return benchServe(ctx, r)
				case namedPage:
					return benchPage(ctx, r)
				}
				return r.run(ctx, "go", "test", "-run", "^$", "-bench", "(?i)"+pattern, "-benchmem", "./...")
			})
		},
	}
}

// benchFetch runs everything at the size the aims are stated for.
func benchFetch(ctx context.Context, r repo) error {
	exe, err := os.Executable()
	if err != nil {
		return err
	}
	b := &fetchBench{
		dir: r.path(".cache", "bench-fetch"), exe: exe, aims: aims{out: os.Stdout},
		tiles: 20000, rounds: 6, seconds: 5, rates: []int{50, 200}, connections: []int{2, 8, 16},
		memory: []int{5000, 20000, 80000},
	}
	if err := b.run(ctx); err != nil {
		return err
	}
	return b.verdict()
}

// benchServe runs everything at the size the aims are stated for.
func benchServe(ctx context.Context, r repo) error {
	exe, err := os.Executable()
	if err != nil {
		return err
	}
	b := &serveBench{
		dir: r.path(".cache", "bench-serve"), exe: exe, aims: aims{out: os.Stdout},
		tiles: 20000, hot: 500, rounds: 7, seconds: 3, large: 10 << 30,
	}
	if err := b.run(ctx); err != nil {
		return err
	}
	return b.verdict()
}

func (b *aims) verdict() error {
	if len(b.missed) > 0 {
		return errors.New(fmt.Sprint(len(b.missed), " aims are missed; on a busy machine run it again"))
	}
	return nil
}
