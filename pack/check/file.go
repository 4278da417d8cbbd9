package check

import (
	"context"
	"os"

	"groundsheet/tiles"
	"groundsheet/tiles/words"
)

// file checks the structure of the file; false ends the check.
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
	holes, err := c.pack.Holes(ctx)
	if err != nil {
		return err
	}
	if c.covers, err = c.pack.Wanted(ctx); err != nil {
		return err
	}
	a := c.pack.Info.About
	if c.pack.Info.Own && (count(c.covers) != a.Tiles+a.Holes+a.Undecodable || a.Tiles == 0 || holes != a.Holes) {
		c.add("damaged", Fault, nil, words.Say("check.wanted_changed", "tiles", a.Tiles, "holes", a.Holes, "n", count(c.covers), "named", holes))
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

// sameZooms compares the zooms in the metadata, which map programs read, with those
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
