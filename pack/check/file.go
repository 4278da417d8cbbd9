package check

import (
	"context"
	"errors"
	"maps"
	"os"
	"slices"
	"time"

	"groundsheet/pack"
	"groundsheet/tiles"
	"groundsheet/tiles/measure"
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
		c.add("damaged", Fault, nil, words.Say("check.wanted_changed", "tiles", a.Tiles, "holes", a.Holes,
			"n", count(c.covers), "named", holes))
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

// stated checks what the pack states of the job.
func (c *checker) stated(ctx context.Context) error {
	a := c.pack.Info.About
	if !c.pack.Info.Own {
		return nil
	}
	if a.FitInBytes > 0 && c.report.Bytes > a.FitInBytes {
		c.add("too large", Fault, nil, words.Say("check.too_large", "size", measure.Size(c.report.Bytes),
			"most", measure.Size(a.FitInBytes)))
	}
	c.ticket(a)
	c.clock(a)
	if a.Undecodable > 0 {
		c.add("undecodable", Fault, nil, words.Say("check.undecodable", "n", a.Undecodable))
	}
	if a.Unconfirmed > 0 {
		c.add("unconfirmed", Warning, nil, words.Say("verdict.unconfirmed", "n", a.Unconfirmed))
	}
	if a.Source.Captured == "" {
		say := words.Say("check.no_captured")
		if len(a.Source.Drawn) > 0 {
			say = words.Say("drawn.no_captured")
		}
		c.add("not stated", Warning, nil, say)
	}
	for _, code := range a.ExpectedMissing {
		if slices.Contains(a.NothingHere, code) {
			c.add("nothing here", Warning, nil, words.Say("notknown.nothing_here", "utility", code))
		} else {
			c.add("no record", Warning, nil, words.Say("notknown.no_record", "utility", code))
		}
	}
	for _, code := range a.OnlyNear {
		c.add("nothing here", Warning, nil, words.Say("notknown.only_near", "utility", code))
	}
	for _, s := range c.pack.Info.Overlays {
		if err := c.overlay(ctx, s); err != nil {
			return err
		}
	}
	return nil
}

func (c *checker) ticket(a pack.About) {
	if a.Ticket == nil {
		return
	}
	if a.Ticket.ValidUntil == "" {
		c.add("ticket", Warning, nil, words.Say("check.ticket_no_day"))
		return
	}
	last, err := time.ParseInLocation(time.DateOnly, a.Ticket.ValidUntil, time.Local)
	if err == nil && !c.opts.Now().Before(last.AddDate(0, 0, 1)) {
		c.add("ticket", Warning, nil, words.Say("check.ticket_ended", "number", a.Ticket.Number, "day", a.Ticket.ValidUntil))
	}
}

// clock compares the times in the pack with the clock of this computer.
func (c *checker) clock(a pack.About) {
	now := c.opts.Now()
	ahead := a.Ahead(now)
	for _, what := range slices.Sorted(maps.Keys(ahead)) {
		c.add("clock", Warning, nil, words.Say("clock.pack", "what", what, "time", measure.Moment(ahead[what]),
			"now", measure.Moment(now)))
	}
}

func (c *checker) overlay(ctx context.Context, s pack.Summary) error {
	add := func(kind, severity, detail string) {
		c.addAt(kind, severity, shown(s), detail)
	}
	switch {
	case s.Features == 0:
		add("not stated", Note, words.Say("check.overlay_empty", "overlay", quoted(s.Title)))
	case s.Outside == s.Features:
		add("outside", Fault, words.Say("check.overlay_outside", "overlay", quoted(s.Title)))
	case s.Outside > 0:
		add("outside", Warning, words.Say("check.overlay_part_outside", "n", s.Outside, "all", s.Features,
			"overlay", quoted(s.Title)))
	}
	noLevel, noDate := s.Features, s.Features // that state none themselves
	if s.QualityLevel == "" || s.Recorded == "" {
		o, err := c.pack.ReadOverlay(ctx, s)
		switch {
		case err == nil:
			noLevel, noDate = o.NoLevel(), o.NoDate()
		case !errors.Is(err, pack.NotPack): // else its seal tells
			return err
		}
	}
	switch {
	case s.QualityLevel != "" || noLevel == 0 && s.Features > 0:
	case noLevel < s.Features:
		add("not stated", Warning, words.Say("check.overlay_part_level", "n", noLevel, "all", s.Features, "overlay", quoted(s.Title)))
	default:
		add("not stated", Warning, words.Say("check.overlay_no_level", "overlay", quoted(s.Title)))
	}
	switch today := c.opts.Now().Format(time.DateOnly); {
	case s.Recorded == "" && noDate == 0 && s.Features > 0:
	case s.Recorded == "" && noDate < s.Features:
		add("not stated", Warning, words.Say("check.overlay_part_date", "n", noDate, "all", s.Features, "overlay", quoted(s.Title)))
	case s.Recorded == "":
		add("not stated", Warning, words.Say("check.overlay_no_date", "overlay", quoted(s.Title)))
	case s.Recorded > today:
		add("date", Warning, words.Say("check.overlay_future", "overlay", quoted(s.Title), "date", s.Recorded))
	}
	if s.Unlocated > 0 {
		add("not stated", Warning, words.Say("check.overlay_unlocated", "overlay", quoted(s.Title), "n", s.Unlocated))
	}
	return nil
}
