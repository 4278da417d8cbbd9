package main

import (
	"context"
	"errors"
	"fmt"
	"slices"
	"time"

	"github.com/spf13/cobra"

	"groundsheet/pack"
	"groundsheet/pack/check"
	"groundsheet/pack/office"
	"groundsheet/pack/plan"
	"groundsheet/tiles/measure"
	"groundsheet/tiles/words"
)

func (a *app) packCommand() *cobra.Command {
	var f packFlags
	c := &cobra.Command{
		Use: "pack DIR", Short: "Fetch what is missing, write the pack and check it",
		Long: `pack fetches what the job wants and the office store does not hold fresh, writes
DIR/out/NAME.mbtiles and checks it. It can be stopped at any moment: run it
again and it goes on. With --json it prints one document (several bases: one a
line): job, source, file, wanted, tiles, fetched, unchanged, reused, absent,
requests, received_bytes, stood_in, withdrawn, brought, bytes, shared_images, recoded, seconds, rewritten,
verdict. A pack whose content has not changed is not rewritten; it is checked
all the same.

A run stops when the terms' hours or daily budget end, or the source asks to
wait for long: run it again then, or let it wait with --wait. When the source
fails, tiles that are held but no longer fresh are not packed unless the source
allowed that (stale-if-error); --stand-in packs them all the same and says so.
With --keep-trying 30m a source whose connection drops, or that does not answer,
is asked again after growing pauses until it has not answered for 30 minutes.`,
		Args: folderArg,
		RunE: func(c *cobra.Command, args []string) error { return a.runPack(c.Context(), args[0], f) },
	}
	fl := c.Flags()
	fl.BoolVar(&f.json, "json", false, "print the result as JSON")
	f.asking.flags(c)
	return c
}

// packFlags are what pack can be told.
type packFlags struct {
	json   bool
	asking asking
}

// asking is how far a run goes when a source does not answer at once.
type asking struct {
	wait, standIn, all bool
	keep               span   // keep trying a source that fails for so long
	sign               string // file of the key that the pack is signed with
}

func (g *asking) flags(c *cobra.Command) {
	c.Flags().BoolVar(&g.wait, "wait", false, "wait for the terms' hours, the next day's budget or as long as the source asks, instead of stopping")
	c.Flags().BoolVar(&g.standIn, "stand-in", false, "when the source fails, pack held tiles that are no longer fresh")
	c.Flags().Var(&g.keep, "keep-trying", "when the source fails, keep trying until it has not answered for so long, such as 30m or 2h, with growing pauses within the terms (else a run ends after a few tries)")
	c.Flags().StringVar(&g.sign, "sign", "", "sign the pack with this Ed25519 key (PEM), so that check --key finds what was changed on purpose")
}

// packDocument is the shape of pack --json.
type packDocument struct {
	office.Report
	Verdict string `json:"verdict"`
}

func (a *app) runPack(ctx context.Context, dir string, f packFlags) (err error) {
	w, err := a.open(ctx, dir)
	if err != nil {
		return err
	}
	defer func() { closeInto(w.close, &err) }()
	fit := true
	err = a.eachBase(ctx, w, func(i int, p plan.Plan) error {
		ok, err := a.packBase(ctx, w, i, p, f)
		fit = fit && ok
		return err
	})
	if err == nil && !fit {
		return notFit{}
	}
	return err
}

// eachBase plans every base of a job and has it worked on, and sees to the
// bases that the job no longer has.
func (a *app) eachBase(ctx context.Context, w *work, do func(int, plan.Plan) error) error {
	plans, err := w.plans(ctx)
	if err != nil {
		return err
	}
	if err := refusals(plans); err != nil { // before a store is made
		return err
	}
	if err := a.needStore(ctx, w); err != nil {
		return err
	}
	for i, p := range plans {
		if i > 0 { // what the bases before it fetched may be held for this one too
			if p, err = w.plan(ctx, i); err != nil {
				return err
			}
		}
		if err := do(i, p); err != nil {
			return err
		}
	}
	return closeGoneBases(ctx, w)
}

// refusals gives the first reason not to fetch at all.
func refusals(plans []plan.Plan) error {
	for i, p := range plans {
		if p.Refused != nil {
			return p.Refused
		}
		if _, err := p.Source.WithKey(p.Source.URL); err != nil { // a key that is not set
			return fmt.Errorf("base %d of the job: %w", i+1, err)
		}
	}
	return nil
}

func (a *app) packBase(ctx context.Context, w *work, i int, p plan.Plan, f packFlags) (fit bool, err error) {
	r, c, err := a.fillAndCheck(ctx, w, i, p, f.asking, false)
	if err != nil {
		return false, err
	}
	if f.json {
		return c.Verdict == check.Fit, a.json(packDocument{r, c.Verdict}, len(w.job.Bases) == 1)
	}
	a.showPacked(r)
	a.showCheck(c)
	return c.Verdict == check.Fit, nil
}

// fillAndCheck fetches, writes, registers and checks one base. A pack that was
// not rewritten and turns out to be damaged is written anew, once.
func (a *app) fillAndCheck(ctx context.Context, w *work, i int, p plan.Plan, g asking, compare bool) (r office.Report, c check.Report, err error) {
	o, err := a.filling(w, i, p)
	if err != nil {
		return r, c, err
	}
	o.Compare, o.Patient, o.StandIn, o.AskAll = compare, g.wait, g.standIn, g.all
	if g.sign != "" {
		if o.Sign, err = pack.PrivateKey(g.sign); err != nil {
			return r, c, &wrongUse{"--sign " + err.Error(), "keep the key in the office, and give the public key to those who check"}
		}
	}
	o.Pausing = func(until time.Time, why string) {
		a.note("waiting until %s: %s", measure.Moment(until), why)
	}
	o.Keep = time.Duration(g.keep)
	o.Trying = func(until time.Time, why string) {
		a.note("%s", words.Say("fetching.trying", "source", p.Source.Name, "why", why, "time", measure.Moment(until)))
	}
	ask := p.Fetch
	if g.all {
		ask = p.Tiles
	}
	a.note("%s: %s wanted, %d to ask %s for", p.Job.Name, count(p.Tiles, "tile"), ask, p.Source.Name)
	if n := p.Ahead(); n > 0 {
		a.note("%s", words.Say("clock.ahead", "n", n))
	}
	if !p.Fits() {
		a.note("the estimate is %s, more than fit_in = %s: see groundsheet plan for what could be given up", measure.Size(p.Bytes), p.Job.FitIn)
	}
	fetching, writing := a.meter("fetching"), a.meter("writing")
	fetching.total = ask
	o.Fetching, o.Writing = fetching.tally, writing.to
	r, err = office.Run(ctx, o)
	fetching.stop()
	writing.stop()
	if err != nil {
		return r, c, err
	}
	if err := noteJob(ctx, w, i, o); err != nil {
		return r, c, err
	}
	c, err = a.checked(ctx, r.File)
	if r.Rewritten || !damagedFile(c, err) {
		return r, c, err
	}
	a.note("%s is damaged: writing it anew", r.File)
	if r, err = office.Anew(ctx, o, r); err != nil {
		return r, c, err
	}
	c, err = a.checked(ctx, r.File)
	return r, c, err
}

func (a *app) checked(ctx context.Context, path string) (check.Report, error) {
	m := a.meter("checking")
	defer m.stop()
	return check.Run(ctx, path, check.Options{Progress: m.to})
}

// damagedFile reports whether a pack is not fit for a reason of its file, not
// of the job.
func damagedFile(c check.Report, err error) bool {
	var broken *pack.NotPack
	if errors.As(err, &broken) {
		return true
	}
	ofFile := []string{"damaged", "missing", "unreadable", "wrong size", "wrong format", "changed", "impossible", "stray", "empty"}
	return slices.ContainsFunc(c.Findings, func(f check.Finding) bool { return slices.Contains(ofFile, f.Kind) })
}

func (a *app) showPacked(r office.Report) {
	if r.Rewritten {
		a.say("packed %s: %s, %s", r.File, count(r.Tiles, "tile"), measure.Size(r.Bytes))
	} else {
		a.say("%s: unchanged, not rewritten: %s, %s", r.File, count(r.Tiles, "tile"), measure.Size(r.Bytes))
	}
	if r.Requests == 0 {
		a.say("nothing was fetched: the office store knows all %d tiles wanted, and they are still fresh", r.Wanted)
		return
	}
	a.say("fetched %d (%s), confirmed unchanged %d, reused %d, absent at the source %d; %s in %s",
		r.Fetched, measure.Size(r.Received), r.Unchanged, r.Reused, r.Absent, count(r.Requests, "request"), seconds(r.Seconds))
	if r.Brought > 0 {
		a.say("another run brought %d meanwhile", r.Brought)
	}
	if r.Withdrawn > 0 {
		a.say("the source says that it does not have %s that the office holds: what is held stays as it is, and is asked for again", count(r.Withdrawn, "tile"))
	}
	if r.StoodIn > 0 {
		a.say("CAUTION: the source failed. %s", words.Say("verdict.unconfirmed", "n", r.StoodIn))
	}
	if r.Recoded > 0 {
		a.say("brought to the pack's one format: %s", count(r.Recoded, "tile"))
	}
}
