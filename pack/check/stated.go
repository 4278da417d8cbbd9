package check

import (
	"context"
	"fmt"
	"maps"
	"slices"
	"time"

	"groundsheet/pack"
	"groundsheet/tiles/measure"
	"groundsheet/tiles/words"
)

// job looks at what the pack says of the job.
func (c *checker) job(context.Context) error {
	for _, cover := range c.covers {
		for hole := range c.holes {
			if cover.Has(hole) {
				c.report.Holes++
			}
		}
	}
	a := c.pack.Info.About
	if !c.pack.Info.Own {
		return nil
	}
	if a.FitInBytes > 0 && c.report.Bytes > a.FitInBytes {
		c.add("too large", Fault, nil, fmt.Sprintf("the pack is %s, the job says fit_in = %s: fewer zooms, a smaller margin or a larger device",
			measure.Size(c.report.Bytes), measure.Size(a.FitInBytes)))
	}
	c.ticket(a)
	c.clock(a)
	if a.Unconfirmed > 0 {
		c.add("unconfirmed", Warning, nil, words.Say("verdict.unconfirmed", "n", a.Unconfirmed))
	}
	if a.Source.Captured == "" {
		c.add("not stated", Warning, nil, "when the picture was taken is not known: set captured in sources.toml if the provider says")
	}
	for _, code := range a.ExpectedMissing {
		if slices.Contains(a.NothingHere, code) {
			c.add("nothing here", Warning, nil, words.Say("notknown.nothing_here", "utility", code))
		} else {
			c.add("no record", Warning, nil, words.Say("notknown.no_record", "utility", code))
		}
	}
	for _, s := range c.pack.Info.Overlays {
		c.overlay(s)
	}
	return nil
}

func (c *checker) ticket(a pack.About) {
	if a.Ticket == nil {
		return
	}
	if a.Ticket.ValidUntil == "" {
		c.add("ticket", Warning, nil, "the ticket's last valid day is not stated")
		return
	}
	last, err := time.ParseInLocation(time.DateOnly, a.Ticket.ValidUntil, time.Local)
	if err == nil && !c.opts.Now().Before(last.AddDate(0, 0, 1)) {
		c.add("ticket", Warning, nil, fmt.Sprintf("ticket %s was valid until %s: ask the notice centre before digging", a.Ticket.Number, a.Ticket.ValidUntil))
	}
}

// clock holds the times that the pack's own computer wrote against this one's.
func (c *checker) clock(a pack.About) {
	now := c.opts.Now()
	ahead := a.Ahead(now)
	for _, what := range slices.Sorted(maps.Keys(ahead)) {
		c.add("clock", Warning, nil, words.Say("clock.pack", "what", what, "time", minute(ahead[what]), "now", minute(now)))
	}
}

func minute(t time.Time) string { return t.Local().Format("2006-01-02 15:04") }

func (c *checker) overlay(s pack.Summary) {
	switch {
	case s.Features == 0:
		c.add("not stated", Note, nil, fmt.Sprintf("overlay %q records nothing here", s.Title))
	case s.Outside == s.Features:
		c.add("outside", Fault, nil, fmt.Sprintf("overlay %q lies wholly outside the packed area: is it the right file, with longitude first?", s.Title))
	case s.Outside > 0:
		c.add("outside", Warning, nil, fmt.Sprintf("%d of the %d features of overlay %q lie outside the packed area: is that right?", s.Outside, s.Features, s.Title))
	}
	if s.QualityLevel == "" {
		c.add("not stated", Warning, nil, fmt.Sprintf("overlay %q does not state a quality level", s.Title))
	}
	switch today := c.opts.Now().Format(time.DateOnly); {
	case s.Recorded == "":
		c.add("not stated", Warning, nil, fmt.Sprintf("overlay %q does not state its date", s.Title))
	case s.Recorded > today:
		c.add("date", Warning, nil, fmt.Sprintf("overlay %q is dated %s, which is still to come", s.Title, s.Recorded))
	}
	if s.Unlocated > 0 {
		c.add("not stated", Warning, nil, fmt.Sprintf("overlay %q has %d records without a place; they are not on the map", s.Title, s.Unlocated))
	}
}
