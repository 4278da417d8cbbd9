package main

import (
	"context"
	"errors"
	"fmt"
	"os"

	"github.com/spf13/cobra"
)

// namedBench compares with outside programs; the others are Go benchmarks.
const namedBench = "fetch"

// pageBench measures the page in a browser.
const pageBench = "page"

func benchCommand() *cobra.Command {
	return &cobra.Command{
		Use: "bench [PATTERN | fetch | page]", Short: "Run the benchmarks, or those whose name matches", Args: cobra.MaximumNArgs(1),
		Long: `bench runs Go benchmarks. bench fetch measures fetching into the office store
against curl in the same run, with nginx on this machine; it takes some minutes
and 3 GB of room for a while. bench page measures the map page in Chromium with
the processor slowed down four times: the first picture over 10 Mbit/s, and the
longest frames while the map moves over 100,000 readings.`,
		RunE: func(c *cobra.Command, args []string) error {
			pattern := "."
			if len(args) == 1 {
				pattern = args[0]
			}
			return withRoot(c.Context(), func(ctx context.Context, r repo) error {
				switch pattern {
				case namedBench:
					return benchFetch(ctx, r)
				case pageBench:
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
		dir: r.path(".cache", "bench-fetch"), exe: exe, out: os.Stdout,
		tiles: 20000, rounds: 6, seconds: 5, rates: []int{50, 200}, connections: []int{2, 8, 16},
		memory: []int{5000, 20000, 80000},
	}
	if err := b.run(ctx); err != nil {
		return err
	}
	if len(b.missed) > 0 {
		return errors.New(fmt.Sprint(len(b.missed), " aims are missed; on a busy machine run it again"))
	}
	return nil
}
