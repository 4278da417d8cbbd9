package main

import (
	"context"
	"fmt"
	"text/tabwriter"

	"github.com/spf13/cobra"

	"groundsheet/pack/plan"
	"groundsheet/tiles/measure"
	"groundsheet/tiles/words"
)

type planFlags struct {
	json        bool
	sample      int
	picture     string
	pictureZoom int
}

func (a *app) planCommand() *cobra.Command {
	var f planFlags
	c := &cobra.Command{
		Use: "plan DIR", Short: "Say what the job wants: tiles, megabytes, minutes, and whether the terms allow it",
		Long: `plan works out every tile the job wants. It asks no server and changes nothing
on disk, unless --sample has it fetch a few tiles, so that megabytes are
measured and not guessed. With --json it prints one document (several bases: one a
line): job, source, zooms[zoom, tiles, held, absent, stale, fetch,
bytes_estimate, seconds_estimate, ground_resolution_m, guessed], tiles, fetch,
bytes_estimate, seconds_estimate, guessed, fit_in, fits, advice[reading_m,
zoom_to_place, pixels_at_deepest, can_place, native_zoom, magnified, chosen],
proposals[what, write, tiles, bytes_estimate, fits,
set[key, value], places, gives_up], suspects[sha256, places,
flat, tiles], days, notes, timed, refused (null or why). A
refused plan exits with 2.`,
		Args: args(1, 1, "one job folder is wanted", "plan site"),
		RunE: func(c *cobra.Command, args []string) error { return a.runPlan(c.Context(), args[0], f) },
	}
	fl := c.Flags()
	fl.BoolVar(&f.json, "json", false, "print the plan as JSON")
	fl.IntVar(&f.sample, "sample", 0, "fetch this many tiles first, spread over zooms and ground, and keep them")
	fl.StringVar(&f.picture, "picture", "", "draw the area, its margin and the tiles of a zoom into this PNG file, over the imagery that is held")
	fl.IntVar(&f.pictureZoom, "picture-zoom", -1, "the zoom to draw (else the deepest whose tiles can be seen)")
	return c
}

func (a *app) runPlan(ctx context.Context, dir string, f planFlags) (err error) {
	if f.sample < 0 {
		return wrongUse("--sample wants a number of tiles", "such as --sample 200")
	}
	o, stop := a.following()
	w, err := o.Open(ctx, dir)
	if err != nil {
		return err
	}
	defer func() { closeInto(w.Close, &err) }()
	plans, err := w.Plans(ctx)
	if err != nil {
		return err
	}
	if err := f.checkPicture(plans[0]); err != nil {
		return err // before anything is fetched
	}
	if f.sample > 0 {
		for s, err := range w.Sample(ctx, f.sample) {
			stop()
			if err != nil {
				return err
			}
			a.note("sampled %s: %s, %s, %d absent", s.Source, count(s.Tally.New+s.Tally.Unchanged, "image"),
				measure.Size(s.Tally.Bytes), s.Tally.Absent)
		}
		if plans, err = w.Plans(ctx); err != nil {
			return err
		}
	}
	if err := a.drawPicture(ctx, w, plans, f); err != nil {
		return err
	}
	return a.showPlans(plans, f.json)
}

func (a *app) showPlans(plans []plan.Plan, asJSON bool) error {
	var refused, err error
	for _, p := range plans {
		if p.Refused != nil {
			refused = p.Refused
		}
		if asJSON {
			err = a.json(p.Document, len(plans) == 1)
		} else {
			err = a.showPlan(p)
		}
		if err != nil {
			return err
		}
	}
	return refused
}

func (a *app) showPlan(p plan.Plan) error {
	a.say("%s · base map %s · margin %s", p.Job.Name, p.Source.Name, p.Job.Margin.In(p.Job.Units))
	lon, lat := p.Middle()
	a.say("area: %s around %.5f, %.5f (latitude, longitude)", p.AreaWords(), lat, lon)
	for _, n := range p.Document.Notes {
		a.say("note: %s", n)
	}
	if len(p.Zooms) == 0 {
		return nil // refused before anything was computed; the reason follows
	}
	t := tabwriter.NewWriter(a.out, 0, 0, 2, ' ', tabwriter.AlignRight)
	fmt.Fprintln(t, "zoom\t1 px is\ttiles\theld\tstale\tabsent\tto fetch\tsize\ttime\t")
	for _, z := range p.Zooms {
		fmt.Fprintf(t, "%d\t%s\t%d\t%d\t%d\t%d\t%d\t%s\t%s\t\n", z.Zoom, measure.Distance(z.GroundResolution).In(p.Job.Units),
			z.Tiles, z.Held, z.Stale, z.Absent, z.Fetch, measure.Size(z.BytesEstimate), measure.Seconds(z.SecondsEstimate))
	}
	if err := t.Flush(); err != nil {
		return err
	}
	a.say("%s", p.TotalWords())
	if n := p.Ahead(); n > 0 {
		a.say("%s", words.Say("clock.ahead", "n", n))
	}
	a.showAdvice(p)
	a.showNoImagery(p)
	a.showProposals(p)
	if p.Refused == nil {
		a.say("terms: %s", p.TermsWords())
	}
	return nil
}

// showNoImagery names what is held and shows nothing of the ground.
func (a *app) showNoImagery(p plan.Plan) {
	var named int64
	for _, z := range p.Zooms {
		named += z.Placeholders
	}
	if named > 0 {
		a.say("no imagery: %d of the held tiles are pictures that the sources file names as placeholders; they count as absent", named)
	}
	for _, s := range p.Suspects {
		a.say("suspect: %s", s.Words())
	}
}

// showAdvice says whether the picture will be sharp enough.
func (a *app) showAdvice(p plan.Plan) {
	for _, line := range p.SharpnessWords() {
		a.say("%s", line)
	}
}

func (a *app) showProposals(p plan.Plan) {
	if p.Fits() {
		return
	}
	a.say("this is more than fit_in = %s. What could be given up:", p.Job.FitIn)
	for _, o := range p.Instead {
		fits := "still too large"
		if o.Fits {
			fits = "fits"
		}
		a.say("  %s, %s, %s: %s\n      %s", measure.Size(o.Bytes), count(o.Tiles, "tile"), fits, o.What, o.Write)
	}
}

// count gives a number with its noun: "1 tile", "2 tiles".
func count[N int | int64 | uint64](n N, one string) string { return measure.Count(n, one) }
