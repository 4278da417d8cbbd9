package main

import (
	"context"
	"maps"
	"slices"

	"github.com/spf13/cobra"

	"groundsheet/pack"
	"groundsheet/pack/check"
	"groundsheet/tiles"
	"groundsheet/tiles/measure"
)

func (a *app) checkCommand() *cobra.Command {
	var against string
	var asJSON bool
	c := &cobra.Command{
		Use: "check PACK…", Short: "Prove that a pack is complete: fit or not fit",
		Long: `check reads the whole pack: the file's structure, every wanted tile decoded and
compared with what was fetched, holes, overlays, the ticket. With --against DIR
the pack is held against the job as it is now. With --json it prints one
document a pack: file, verdict ("fit" or "not fit"), tiles_wanted, tiles_held,
holes, bytes, counts, findings[kind, severity, tile, detail]; at most 100
findings of a kind are listed, counts has them all. Exits with 1 when a pack is
not fit.`,
		Args: func(_ *cobra.Command, args []string) error {
			if len(args) == 0 {
				return &wrongUse{"no pack is named", "such as: groundsheet check site/out/NAME.mbtiles"}
			}
			return nil
		},
		RunE: func(c *cobra.Command, args []string) error { return a.runCheck(c.Context(), args, against, asJSON) },
	}
	c.Flags().StringVar(&against, "against", "", "job folder to hold the pack against")
	c.Flags().BoolVar(&asJSON, "json", false, "print the result as JSON")
	return c
}

func (a *app) runCheck(ctx context.Context, paths []string, against string, asJSON bool) error {
	fit := true
	for _, path := range paths {
		o := check.Options{}
		var err error
		if against != "" {
			if o.Against, err = jobCovers(against, path); err != nil {
				return err
			}
		}
		m := a.meter("checking")
		o.Progress = m.to
		r, err := check.Run(ctx, path, o)
		m.stop()
		if err != nil {
			return err
		}
		fit = fit && r.Verdict == check.Fit
		if asJSON {
			if err := a.json(r); err != nil {
				return err
			}
			continue
		}
		a.showCheck(r)
	}
	if !fit {
		return notFit{}
	}
	return nil
}

// jobCovers works out what the job wants now of the base that the pack is of.
func jobCovers(dir, path string) (covers []tiles.Cover, err error) {
	job, err := pack.ReadJob(dir)
	if err != nil {
		return nil, err
	}
	p, err := pack.Open(context.Background(), path)
	if err != nil {
		return nil, err
	}
	name := p.Info.About.Source.Name
	if err := p.Close(); err != nil {
		return nil, err
	}
	whole, err := job.ReadArea()
	if err != nil {
		return nil, err
	}
	for _, b := range job.Bases {
		if b.Source == name || len(job.Bases) == 1 {
			return whole.Covers(b.Zooms, job.Margin.Metres()), nil
		}
	}
	return nil, &wrongUse{"the job has no base map from source " + name, "name the job folder that the pack was made from"}
}

var mark = map[string]string{check.Fault: "FAULT  ", check.Warning: "warning", check.Note: "note   "}

// shown is how many findings of a kind people are told before the rest is counted.
const shown = 10

func (a *app) showCheck(r check.Report) {
	seen := map[string]int{}
	for _, f := range r.Findings {
		if seen[f.Kind]++; seen[f.Kind] <= shown {
			a.say("%s %s: %s", mark[f.Severity], f.Kind, f.Detail)
		}
	}
	for _, kind := range slices.Sorted(maps.Keys(r.Counts)) {
		if n := r.Counts[kind]; n > shown {
			a.say("        … and %d more of kind %q (all in --json up to %d)", n-shown, kind, check.MaxListed)
		}
	}
	a.say("%s: %s — %d of %d tiles, %d named holes, %s", r.File, r.Verdict, r.TilesHeld, r.TilesWanted, r.Holes, measure.Size(r.Bytes))
	if r.Verdict != check.Fit {
		a.say("do not take this pack to the site")
	}
}
