package main

import (
	"context"
	"fmt"
	"text/tabwriter"
	"time"

	"github.com/spf13/cobra"

	"groundsheet/pack"
	"groundsheet/tiles/measure"
)

func (a *app) planCommand() *cobra.Command {
	var asJSON bool
	c := &cobra.Command{
		Use: "plan DIR", Short: "Say what the job wants: tiles, megabytes, minutes, and whether the terms allow it",
		Long: `plan works out every tile the job wants. It asks no server and changes nothing
on disk. With --json it prints one document (several bases: one a line):
job, source, zooms[zoom, tiles, held, absent, stale, fetch, bytes_estimate,
seconds_estimate, ground_resolution_m], tiles, fetch, bytes_estimate,
seconds_estimate, guessed, fit_in, refused (null or why). A refused plan exits
with 2.`,
		Args: folderArg,
		RunE: func(c *cobra.Command, args []string) error { return a.runPlan(c.Context(), args[0], asJSON) },
	}
	c.Flags().BoolVar(&asJSON, "json", false, "print the plan as JSON")
	return c
}

func (a *app) runPlan(ctx context.Context, dir string, asJSON bool) (err error) {
	w, err := a.open(dir, false)
	if err != nil {
		return err
	}
	defer closeInto(w.closer, &err)
	plans, err := w.plans(ctx)
	if err != nil {
		return err
	}
	var refused error
	for _, p := range plans {
		if p.Refused != nil {
			refused = p.Refused
		}
		if asJSON {
			err = a.json(p.Document())
		} else {
			err = a.showPlan(p)
		}
		if err != nil {
			return err
		}
	}
	return refused
}

func closeInto(closer func() error, err *error) {
	if closeErr := closer(); *err == nil {
		*err = closeErr
	}
}

func (a *app) showPlan(p pack.Plan) error {
	a.say("%s · base map %s · margin %s", p.Job.Name, p.Source.Name, p.Job.Margin.In(p.Job.Units))
	t := tabwriter.NewWriter(a.out, 0, 0, 2, ' ', tabwriter.AlignRight)
	fmt.Fprintln(t, "zoom\t1 px is\ttiles\theld\tstale\tabsent\tto fetch\tsize\ttime\t")
	for _, z := range p.Zooms {
		fmt.Fprintf(t, "%d\t%s\t%d\t%d\t%d\t%d\t%d\t%s\t%s\t\n", z.Zoom, measure.Distance(z.GroundResolution).In(p.Job.Units),
			z.Tiles, z.Held, z.Stale, z.Absent, z.Fetch, measure.Size(z.BytesEstimate), seconds(z.SecondsEstimate))
	}
	if err := t.Flush(); err != nil {
		return err
	}
	about := "about "
	if p.Guessed {
		about = "a guess, nothing measured yet: "
	}
	a.say("total %d tiles, %d to fetch; %s%s, %s at the source's polite rate", p.Tiles, p.Fetch, about, measure.Size(p.Bytes), seconds(p.Seconds))
	if !p.Fits() {
		a.say("this is more than fit_in = %s: fewer zooms or a smaller margin would make it fit", p.Job.FitIn)
	}
	if p.Refused == nil {
		a.say("terms: offline %s%s", p.Source.Terms.Offline, reference(p))
	}
	return nil
}

func reference(p pack.Plan) string {
	if r := p.Source.Terms.Reference; r != "" {
		return ", " + r
	}
	return ""
}

func seconds(s float64) string {
	if s < 1 && s > 0 {
		return "1 s"
	}
	return measure.Age(time.Duration(s) * time.Second).String()
}
