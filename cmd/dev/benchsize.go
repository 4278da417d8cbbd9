package main

import (
	"context"
	"fmt"
	"io/fs"
	"os/exec"
	"path/filepath"
)

// What keeping and checking must show.
const (
	mostWeight    = 1.15 // of the bytes of the images
	mostWritten   = 3.0  // of the bytes of the images
	leastOfDigest = 0.5  // of the speed of sha256sum over the pack
)

// benchSize measures what a store weighs and writes, and how quick checking is.
func benchSize(ctx context.Context, r repo, tiles int) error {
	if err := build(ctx, r); err != nil {
		return err
	}
	return inScratch(r, "size", func(b *bench) error { return b.sizing(ctx, r.program(), tiles, 3) })
}

func (b *bench) sizing(ctx context.Context, program string, n, rounds int) error {
	p, err := newPictures()
	if err != nil {
		return err
	}
	images := 0
	least, most := 1<<30, 0
	for i := range n {
		size := len(p.of(benchTile(i)))
		images, least, most = images+size, min(least, size), max(most, size)
	}
	fmt.Fprintf(b.out, "%d JPEG tiles of %.1f to %.1f KB, %.0f MB in all\n", n, float64(least)/1000, float64(most)/1000, float64(images)/1e6)
	got, err := b.fetchFrom(ctx, 0, fetchTask{Tiles: n, Connections: curlParallel, KeepStore: true})
	if err != nil {
		return err
	}
	store, err := sizeOf(filepath.Join(b.dir, "store"))
	if err != nil {
		return err
	}
	weight, written := float64(store)/float64(images), got.written*1e6/float64(images)
	b.aim(weight <= mostWeight, "the store weighs %.3f of its images (aim up to %.2f)", weight, mostWeight)
	b.aim(written <= mostWritten, "%.2f times the images written to the disk, %.1f MB resident (aim up to %.0f times)", written, got.peak, mostWritten)
	return b.checking(ctx, program, n, rounds)
}

// checking times check beside sha256sum; what is read is in memory after the first round.
func (b *bench) checking(ctx context.Context, program string, n, rounds int) error {
	path := filepath.Join(b.dir, "bench.mbtiles")
	if err := writeBenchPack(ctx, path, n); err != nil {
		return err
	}
	all, err := inTurn(rounds+1, 2, func(which int) (spent, error) {
		if which == 0 {
			return timed(exec.CommandContext(ctx, "sha256sum", path))
		}
		return timed(exec.CommandContext(ctx, program, "check", path, "--quiet"))
	})
	if err != nil {
		return err
	}
	ratio := ratios(all[1][1:], all[0][1:], func(s spent) float64 { return 1 / s.wall.Seconds() })
	last := all[1][rounds]
	b.aim(ratio >= leastOfDigest, "check at %.2f of sha256sum (median; aim %.2f)", ratio, leastOfDigest)
	fmt.Fprintf(b.out, "          %.0f tiles/s checked, %.1f MB resident, %.1f s of processor in the last round\n",
		float64(n)/last.wall.Seconds(), last.peak, last.cpu.Seconds())
	return nil
}

func sizeOf(dir string) (total int64, err error) {
	err = filepath.WalkDir(dir, func(_ string, d fs.DirEntry, err error) error {
		if err != nil || d.IsDir() {
			return err
		}
		info, err := d.Info()
		if err == nil {
			total += info.Size()
		}
		return err
	})
	return total, err
}
