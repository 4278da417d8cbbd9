package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"slices"

	"github.com/spf13/cobra"
)

func benchCommand() *cobra.Command {
	var sizeTiles int
	named := map[string]func(context.Context, repo) error{
		"fetch": benchFetch, "serve": benchServe, "page": benchPage, "desk": benchDesk, "raster": benchRaster,
		"size": func(ctx context.Context, r repo) error { return benchSize(ctx, r, sizeTiles) },
	}
	c := &cobra.Command{
		Use: "bench [PATTERN | fetch | serve | size | raster | page | desk]", Short: "Run the benchmarks, or those whose name matches", Args: cobra.MaximumNArgs(1),
		Long: `bench runs Go benchmarks. The named ones compare with outside programs in the same
run, take some minutes and up to 3 GB of disk for a while:

fetch  fetching into the office store against curl, from nginx on this machine
serve  the field server against Go's own file server and nginx, asked by wrk
size   what the store weighs and writes, and checking against sha256sum
raster tiles of a sparse GeoTIFF of 20 gigapixels against one gdalwarp, and the
       memory of all processes
page   the map page in Chromium with the processor slowed down four times: the
       first picture over 10 Mbit/s, and the longest frames while the map moves
       over 100,000 readings
desk   the desk in Chromium: the longest piece of work while a corner of an area of
       5,000 is dragged, and over a list of 2,000 jobs; the time of a scripted person
       from an empty folder to packing`,
		RunE: func(c *cobra.Command, args []string) error {
			pattern := "."
			if len(args) == 1 {
				pattern = args[0]
			}
			return withRoot(c.Context(), func(ctx context.Context, r repo) error {
				if bench, ok := named[pattern]; ok {
					return bench(ctx, r)
				}
				return r.run(ctx, "go", "test", "-run", "^$", "-bench", "(?i)"+pattern, "-benchmem", "./...")
			})
		},
	}
	c.Flags().IntVar(&sizeTiles, "tiles", 40_000, "how many tiles size measures; a million take 40 GB of disk for a while")
	return c
}

// bench is what the named benches share. Only ratios within one run mean
// something: absolute figures depend on the machine.
type bench struct {
	dir    string    // scratch folder, emptied first and removed at the end
	dev    string    // this program, whose hidden command is measured
	out    io.Writer // for people
	missed int       // aims
}

// inScratch runs the parts of a bench in an empty folder under .cache.
func inScratch(r repo, name string, run func(*bench) error) error {
	dev, err := os.Executable()
	if err != nil {
		return err
	}
	b := &bench{dir: r.path(".cache", "bench-"+name), dev: dev, out: os.Stdout}
	if err := os.RemoveAll(b.dir); err != nil {
		return err
	}
	defer os.RemoveAll(b.dir) //nolint:errcheck // the next run removes what stays
	if err := os.MkdirAll(b.dir, 0o755); err != nil {
		return err
	}
	if err := run(b); err != nil {
		return err
	}
	if b.missed > 0 {
		return errors.New(fmt.Sprint(b.missed, " aims are missed; on a busy machine run it again"))
	}
	return nil
}

// aim prints whether an aim is met.
func (b *bench) aim(met bool, format string, args ...any) {
	word := "met   "
	if !met {
		word = "MISSED"
		b.missed++
	}
	fmt.Fprintf(b.out, "  %s  %s\n", word, fmt.Sprintf(format, args...))
}

// inTurn measures several competitors in rounds, each round in another order, so
// that a slow minute of the machine meets all of them. It gives the measurements
// by competitor and round.
func inTurn[T any](rounds, competitors int, measure func(which int) (T, error)) ([][]T, error) {
	all := make([][]T, competitors)
	for round := range rounds {
		for i := range competitors {
			which := (i + round) % competitors
			got, err := measure(which)
			if err != nil {
				return nil, err
			}
			all[which] = append(all[which], got)
		}
	}
	return all, nil
}

// ratios divides ours by theirs, round by round, and gives the median.
func ratios[T any](ours, theirs []T, of func(T) float64) float64 {
	var each []float64
	for i := range ours {
		each = append(each, of(ours[i])/of(theirs[i]))
	}
	return median(each)
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
