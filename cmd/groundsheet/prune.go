package main

import (
	"context"
	"fmt"
	"time"

	"github.com/spf13/cobra"

	"groundsheet/pack/office"
	"groundsheet/tiles/measure"
)

type pruneFlags struct {
	olderThan, downTo, source    string
	closed, openToo, apply, json bool
}

func (a *app) pruneCommand() *cobra.Command {
	var f pruneFlags
	c := &cobra.Command{
		Use: "prune", Short: "Make the office store smaller: say what it would remove, and with --apply remove it",
		Long: `prune says which tiles it would remove, and with --apply removes them and frees the
disk; PostgreSQL keeps most of it for tiles to come. Without --apply
nothing changes.

A tile is removed when only closed jobs want it (--closed) or when it was last fetched
or confirmed too long ago (--older-than 90d); then the least recently packed are,
until the store takes no more than --down-to 20GB. What an open job wants is kept,
unless --open-too is given: close a job with groundsheet store close DIR. What is
to be kept until a day (groundsheet store keep DIR) stays in any case. With
--source NAME only what is held of that source is looked at and counted.

With --json it prints one document: applied, tiles, holes, before_bytes,
freed_bytes_estimate, down_to_bytes, met, sources[source, shelf, tiles, holes,
stay, freed_bytes_estimate], kept_for_open_jobs, open_jobs[name, number, folder,
tiles], kept_until_a_day, jobs_kept_until[name, number, folder, tiles, keep_until,
keep_reason], digest, freed_bytes and after_bytes (null unless applied).`,
		Args: cobra.NoArgs,
		RunE: func(c *cobra.Command, _ []string) error {
			o, err := f.options()
			if err != nil {
				return err
			}
			return a.runPrune(c.Context(), f, o)
		},
	}
	fl := c.Flags()
	fl.StringVar(&f.olderThan, "older-than", "", "take tiles that were fetched or confirmed longer ago, such as 90d")
	fl.StringVar(&f.downTo, "down-to", "", "take the least recently packed until the store is this small, such as 20GB")
	fl.BoolVar(&f.closed, "closed", false, "take tiles that only closed jobs want")
	fl.BoolVar(&f.openToo, "open-too", false, "also take tiles that open jobs want")
	fl.StringVar(&f.source, "source", "", "look at this source alone")
	fl.BoolVar(&f.apply, "apply", false, "take them out; without it nothing changes")
	fl.BoolVar(&f.json, "json", false, "print the result as JSON")
	return c
}

func (f pruneFlags) options() (office.PruneOptions, error) {
	o := office.PruneOptions{Source: f.source, Apply: f.apply}
	o.Closed, o.OpenToo = f.closed, f.openToo
	if f.olderThan == "" && f.downTo == "" && !f.closed {
		return o, wrongUse("nothing says what may go", "give --closed, --older-than 90d or --down-to 20GB")
	}
	if f.olderThan != "" {
		age, err := measure.ParseAge(f.olderThan)
		if err != nil || age <= 0 {
			return o, wrongUse(fmt.Sprintf("--older-than %s is no age", f.olderThan), "such as --older-than 90d")
		}
		o.OlderThan = time.Duration(age)
	}
	if f.downTo != "" {
		size, err := measure.ParseSize(f.downTo)
		if err != nil || size <= 0 {
			return o, wrongUse(fmt.Sprintf("--down-to %s is no size", f.downTo), "such as --down-to 20GB")
		}
		o.DownTo = int64(size)
	}
	return o, nil
}

func (a *app) runPrune(ctx context.Context, f pruneFlags, o office.PruneOptions) error {
	if !f.json {
		o.Planned = a.showPlanned
	}
	d, err := a.office().Prune(ctx, o)
	if err != nil {
		return err
	}
	if f.json {
		return a.json(d, true)
	}
	a.showPruned(d)
	return nil
}

func (a *app) showPlanned(d office.Pruned) error {
	for _, s := range d.Sources {
		if s.Tiles+s.Holes == 0 {
			a.say("%s: nothing to remove, %d kept", s.Source, s.Stay)
			continue
		}
		a.say("%s: %s and %s to remove, %d kept; frees about %s", s.Source, count(s.Tiles, "tile"),
			count(s.Holes, "hole"), s.Stay, measure.Size(s.Freed))
	}
	if d.Kept > 0 {
		a.say("kept because an open job wants them (--open-too takes them too): %s", count(d.Kept, "tile"))
		for _, j := range d.OpenJobs {
			a.say("  %d for %s in %s", j.Tiles, j.Name, j.Folder)
		}
	}
	if d.Until > 0 {
		a.say("kept until a day, for a stated reason: %s", count(d.Until, "tile"))
		for _, j := range d.KeptJobs {
			a.say("  %d for %s in %s, until %s: %s", j.Tiles, j.Name, j.Folder, j.KeptFor.Until, j.Reason)
		}
	}
	if !d.Met {
		a.say("that is not enough for --down-to %s: about %s would be left", measure.Size(d.DownTo),
			measure.Size(d.Before-d.Estimate))
	}
	return nil
}

func (a *app) showPruned(d office.Pruned) {
	switch {
	case !d.Applied && d.Tiles+d.Holes == 0:
		a.say("nothing to remove: the store takes %s", measure.Size(d.Before))
	case !d.Applied:
		a.say("nothing was changed. --apply removes %s, and frees about %s of %s", count(d.Tiles+d.Holes, "tile"),
			measure.Size(d.Estimate), measure.Size(d.Before))
	default:
		a.say("removed %s and %s; %s were given back to the disk, the store takes %s", count(d.Tiles, "tile"),
			count(d.Holes, "hole"), measure.Size(*d.Freed), measure.Size(*d.After))
		if kept := d.Before - *d.After - *d.Freed; kept > 0 { // neither held any more nor given back: a database
			a.say("%s of room stays inside the store, for tiles to come; PostgreSQL gives it back with VACUUM FULL, when nobody uses the store", measure.Size(kept))
		}
		if d.DownTo > 0 && d.Met && *d.After > d.DownTo {
			a.say("that is more than --down-to %s, because what is left does not fill its pages: run prune again",
				measure.Size(d.DownTo))
		}
	}
}
