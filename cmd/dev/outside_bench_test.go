//go:build outside

package main

import (
	"context"
	"os"
	"path/filepath"
	"strings"
	"testing"
)

// TestOutsideBench runs the named benches with few tiles, so that they go on
// working. Whether the aims hold means nothing at this size.
func TestOutsideBench(t *testing.T) {
	dev, err := os.Executable()
	if err != nil {
		t.Fatal(err)
	}
	t.Setenv("GROUNDSHEET_AS_DEV", "1") // for the processes that a bench starts
	program := filepath.Join(t.TempDir(), "groundsheet")
	if err := (repo{filepath.Join("..", "..")}).run(t.Context(), "go", "build", "-o", program, "./cmd/groundsheet"); err != nil {
		t.Fatal(err)
	}
	for name, c := range map[string]struct {
		run  func(*bench, context.Context) error
		want []string
	}{
		"fetch": {func(b *bench, ctx context.Context) error {
			return b.fetching(ctx, fetchSizes{tiles: 200, rounds: 1, seconds: 1, rates: []int{50}, connections: []int{4}})
		}, []string{"of curl to nothing", "of curl to files", "4 connections", "terms of 50/s", "MB resident"}},
		"serve": {func(b *bench, ctx context.Context) error {
			return b.serving(ctx, program, serveSizes{tiles: 2000, hot: 20, rounds: 1, seconds: 1, large: 64 << 20})
		}, []string{"hot set", "uniformly random", "of the file server", "of nginx", "p99", "anonymous", "first tile", "enlarged", "shrunk"}},
		"size": {func(b *bench, ctx context.Context) error { return b.sizing(ctx, program, 200, 1) },
			[]string{"the store weighs", "written to the disk", "of sha256sum"}},
		"raster": {func(b *bench, ctx context.Context) error { return b.warping(ctx, 8, 1) }, []string{"of one gdalwarp", "MB resident at most"}},
	} {
		var out strings.Builder
		if err := c.run(&bench{dir: t.TempDir(), dev: dev, out: &out}, t.Context()); err != nil {
			t.Fatal(name, err, out.String())
		}
		for _, want := range c.want {
			if !strings.Contains(out.String(), want) {
				t.Errorf("%s: nothing of %q in\n%s", name, want, out.String())
			}
		}
	}
}
