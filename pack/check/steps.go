package check

import (
	"context"
	"crypto/sha256"
	"errors"
	"fmt"
	"os"
	"runtime"
	"sync"
	"time"

	"golang.org/x/sync/errgroup"

	"groundsheet/tiles"
	"groundsheet/tiles/raster"
	"groundsheet/tiles/words"
)

// file looks at the file as a whole; false means that looking further is no use.
func (c *checker) file(ctx context.Context) (bool, error) {
	info, err := os.Stat(c.pack.Path)
	if err != nil {
		return false, err
	}
	c.report.Bytes = info.Size()
	lines, err := c.pack.Quick(ctx)
	if ctx.Err() != nil {
		return false, ctx.Err()
	}
	if err != nil {
		lines = append(lines, err.Error())
	}
	for _, line := range lines {
		c.add("damaged", Fault, nil, line)
	}
	return len(lines) == 0, nil
}

func (c *checker) wanted(ctx context.Context) (err error) {
	if c.holes, err = c.pack.Holes(ctx); err != nil {
		return err
	}
	if c.covers, err = c.pack.Wanted(ctx); err != nil {
		return err
	}
	a := c.pack.Info.About
	if c.pack.Info.Own && (count(c.covers) != a.Tiles+a.Holes || a.Tiles == 0 || int64(len(c.holes)) != a.Holes) {
		c.add("damaged", Fault, nil, words.Say("check.wanted_changed", "tiles", a.Tiles, "holes", a.Holes, "n", count(c.covers), "named", len(c.holes)))
	}
	c.sameZooms()
	if c.opts.Against != nil {
		c.covers = c.opts.Against.Covers
	}
	if !c.pack.Info.Own && c.opts.Against == nil {
		c.add("not a site pack", Fault, nil, words.Say("check.foreign"))
	}
	if c.report.TilesWanted = count(c.covers); c.opts.Against != nil && c.report.TilesWanted == 0 {
		c.add("empty", Fault, nil, words.Say("check.wants_none"))
	}
	return nil
}

func count(covers []tiles.Cover) (n int64) {
	for _, cover := range covers {
		n += int64(cover.Count())
	}
	return n
}

// sameZooms holds what a map program reads (the metadata) against what is
// wanted.
func (c *checker) sameZooms() {
	if !c.pack.Info.Own || len(c.covers) == 0 {
		return
	}
	low, high := c.covers[0].Zoom(), c.covers[len(c.covers)-1].Zoom()
	if z := c.pack.Info.Zooms; z.Min != low || z.Max != high {
		c.add("damaged", Fault, nil, words.Say("check.zooms_differ", "min", z.Min, "max", z.Max, "low", low, "high", high))
	}
}

// tiles reads and decodes every wanted tile, on all cores.
func (c *checker) tiles(ctx context.Context) error {
	var mu sync.Mutex
	group, ctx := errgroup.WithContext(ctx)
	group.SetLimit(c.workers())
	for _, cover := range c.covers {
		for t := range cover.All() {
			if ctx.Err() != nil {
				return errors.Join(group.Wait(), ctx.Err())
			}
			group.Go(func() error {
				f, held, err := c.one(ctx, t)
				mu.Lock()
				defer mu.Unlock()
				c.count(t, f, held)
				return err
			})
		}
	}
	return group.Wait()
}

func (c *checker) count(t tiles.ID, f *Finding, held bool) {
	if held {
		c.report.TilesHeld++
	}
	if f != nil {
		c.add(f.Kind, f.Severity, &t, f.Detail)
	}
	if c.opts.Progress != nil {
		c.opts.Progress(c.report.TilesHeld, c.report.TilesWanted)
	}
}

func (c *checker) workers() int {
	if c.opts.Gently {
		return 1
	}
	return runtime.GOMAXPROCS(0)
}

// rest leaves the processor to others for as long as a tile took.
func (c *checker) rest(ctx context.Context, began time.Time) {
	if !c.opts.Gently {
		return
	}
	select {
	case <-time.After(min(time.Since(began), longestRest)):
	case <-ctx.Done():
	}
}

// longestRest is for a computer that slept meanwhile.
const longestRest = 100 * time.Millisecond

func (c *checker) one(ctx context.Context, t tiles.ID) (f *Finding, held bool, err error) {
	defer c.rest(ctx, time.Now())
	data, err := c.pack.Tile(ctx, t)
	if err != nil {
		return found("damaged", Fault, err.Error()), false, ctx.Err()
	}
	if data == nil {
		f, err = c.empty(ctx, t)
		return f, false, err
	}
	f, err = c.image(ctx, t, data)
	return f, true, err
}

func found(kind, severity, detail string) *Finding {
	return &Finding{Kind: kind, Severity: severity, Detail: detail}
}

// empty judges a wanted tile that is not there.
func (c *checker) empty(ctx context.Context, t tiles.ID) (*Finding, error) {
	lon, lat := t.Center()
	at := fmt.Sprintf("%.6f, %.6f", lat, lon)
	if !c.holes[t] {
		return found("missing", Fault, words.Say("check.tile_missing", "tile", t, "place", at)), nil
	}
	from, data, err := c.pack.Nearest(ctx, t)
	if err != nil {
		return nil, err
	}
	if data == nil {
		return found("blank", Fault, words.Say("check.tile_blank", "tile", t, "place", at)), nil
	}
	return found("hole", Warning, words.Say("check.tile_hole", "tile", t, "place", at, "zoom", from.Z)), nil
}

// image proves one packed tile.
func (c *checker) image(ctx context.Context, t tiles.ID, data []byte) (*Finding, error) {
	picture, err := raster.Prove(data, 0)
	if err == nil {
		_, err = raster.Decode(data)
	}
	side := c.pack.Info.About.TileSize
	switch {
	case err != nil:
		return found("unreadable", Fault, fmt.Sprintf("tile %v: %v", t, err)), nil
	case c.pack.Info.Own && (picture.Width != side || picture.Height != side):
		return found("wrong size", Fault, words.Say("check.tile_size", "tile", t, "width", picture.Width, "height", picture.Height, "side", side)), nil
	case string(picture.Kind) != c.pack.Info.Format:
		return found("wrong format", Fault, words.Say("check.tile_format", "tile", t, "is", picture.Kind, "declared", c.pack.Info.Format)), nil
	}
	named := c.repeats.look(t, data, c.pack.Info.Own)
	if !c.pack.Info.Own {
		return nil, nil
	}
	sum, known, err := c.pack.Hash(ctx, t)
	if err != nil {
		return nil, err
	}
	if !known || sum != sha256.Sum256(data) {
		return found("changed", Fault, words.Say("check.tile_changed", "tile", t)), nil
	}
	if named {
		return found("placeholder", Warning, words.Say("check.tile_repeated", "tile", t)), nil
	}
	return nil, nil
}

// strays names tiles that nobody wanted; in a foreign file it proves each.
func (c *checker) strays(ctx context.Context) error {
	byZoom := map[uint32]tiles.Cover{}
	for _, cover := range c.covers {
		byZoom[uint32(cover.Zoom())] = cover
	}
	places, wanted := 0, int64(0)
	defer func() {
		if n := wanted - c.report.TilesHeld; c.pack.Info.Own && n > 0 {
			c.add("changed", Fault, nil, words.Say("check.tile_twice", "n", n))
		}
		if places == 0 {
			c.add("empty", Fault, nil, words.Say("check.no_tiles"))
		}
	}()
	for t, err := range c.pack.Places(ctx) {
		if ctx.Err() != nil {
			return ctx.Err()
		}
		if err != nil {
			c.add("damaged", Fault, nil, err.Error())
			return nil
		}
		places++
		switch {
		case !t.Valid():
			c.add("impossible", Fault, nil, words.Say("check.tile_impossible"))
		case !c.pack.Info.Own && c.opts.Against == nil:
			if err := c.foreign(ctx, t); err != nil {
				return err
			}
		case byZoom[t.Z].Has(t):
			wanted++
		default:
			if err := c.unwanted(ctx, t); err != nil {
				return err
			}
			c.add("stray", Note, &t, words.Say("check.tile_stray", "tile", t))
		}
	}
	return nil
}

// unwanted judges a tile that the job does not want: one that was not packed is
// no part of the pack, and phones would be shown it.
func (c *checker) unwanted(ctx context.Context, t tiles.ID) error {
	if !c.pack.Info.Own {
		return nil
	}
	_, packed, err := c.pack.Hash(ctx, t)
	if err == nil && !packed {
		c.add("changed", Fault, &t, words.Say("check.part_foreign", "part", fmt.Sprintf("tile %v", t)))
	}
	return err
}

func (c *checker) foreign(ctx context.Context, t tiles.ID) error {
	f, held, err := c.one(ctx, t)
	c.report.TilesWanted++
	c.count(t, f, held)
	return err
}
