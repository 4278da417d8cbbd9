package main

import (
	"context"
	"iter"
	"time"

	"github.com/spf13/cobra"

	"groundsheet/pack"
	"groundsheet/pack/check"
	"groundsheet/pack/job"
	"groundsheet/pack/office"
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
		Args: args(1, 1, "one job folder is wanted", "pack site"),
		RunE: func(c *cobra.Command, args []string) error { return a.runPack(c.Context(), args[0], f) },
	}
	fl := c.Flags()
	fl.BoolVar(&f.json, "json", false, "print the result as JSON")
	f.fetch.add(c)
	return c
}

// packFlags are the flags of pack.
type packFlags struct {
	json  bool
	fetch fetchFlags
}

// fetchFlags are the flags of how a run fetches and signs.
type fetchFlags struct {
	wait, standIn, askAll bool
	keepTrying            span   // a source that fails
	sign                  string // file of the key that the pack is signed with
}

func (g *fetchFlags) add(c *cobra.Command) {
	c.Flags().BoolVar(&g.wait, "wait", false, "wait for the terms' hours, the next day's budget or as long as the source asks, instead of stopping")
	c.Flags().BoolVar(&g.standIn, "stand-in", false, "when the source fails, pack held tiles that are no longer fresh")
	c.Flags().Var(&g.keepTrying, "keep-trying", "when the source fails, keep trying until it has not answered for so long, such as 30m or 2h, "+
		"with growing pauses within the terms (else a run ends after a few tries)")
	c.Flags().StringVar(&g.sign, "sign", "", "sign the pack with this Ed25519 key (PEM), so that check --key finds what was changed on purpose")
}

// office is the office that fetches by these flags and shows its progress.
func (g *fetchFlags) office(a *app) (o office.Office, po office.PackOptions, stop func(), err error) {
	po.AskAll = g.askAll
	if g.sign != "" {
		if po.Sign, err = pack.PrivateKey(g.sign); err != nil {
			err = wrongUse("--sign "+err.Error(), "keep the key in the office, and give the public key to those who check")
		}
	}
	o, stop = a.following()
	o.Fetch.Patient, o.Fetch.StandIn, o.Fetch.KeepTrying = g.wait, g.standIn, time.Duration(g.keepTrying)
	return o, po, stop, err
}

// packDocument is the shape of pack --json.
type packDocument struct {
	office.Report
	Verdict string `json:"verdict"`
}

func (a *app) runPack(ctx context.Context, dir string, f packFlags) error {
	return a.eachPack(ctx, dir, "pack", f.fetch, (*office.Workspace).Pack, func(p office.Packed, only bool) error {
		if f.json {
			return a.json(packDocument{p.Report, p.Check.Verdict}, only)
		}
		a.showPacked(p.Report)
		a.showCheck(p.Check)
		return nil
	})
}

// verb packs or refreshes the bases of a job.
type verb func(*office.Workspace, context.Context, office.PackOptions) iter.Seq2[office.Packed, error]

// eachPack runs a verb on the job in a folder, locked for what it is doing, and shows each pack; only tells that
// the job has one base. A pack that is not fit is [notFit] in the end.
func (a *app) eachPack(ctx context.Context, dir, doing string, g fetchFlags, do verb,
	show func(p office.Packed, only bool) error) (err error) {
	o, po, stop, err := g.office(a)
	if err != nil {
		return err
	}
	w, err := o.Open(ctx, dir)
	if err != nil {
		return err
	}
	defer func() { closeInto(w.Close, &err) }()
	unlock, err := job.Lock(dir, "groundsheet "+doing)
	if err != nil {
		return err
	}
	defer func() { closeInto(unlock, &err) }()
	fit := true
	for p, err := range do(w, ctx, po) {
		stop()
		if err == nil {
			err = show(p, len(w.Inputs.Job.Bases) == 1)
		}
		if err != nil {
			return err
		}
		fit = fit && p.Check.Verdict == check.Fit
	}
	if !fit {
		return notFit
	}
	return nil
}

func (a *app) showPacked(r office.Report) {
	if r.Rewritten {
		a.say("packed %s: %s, %s", r.File, count(r.Tiles, "tile"), measure.Size(r.Bytes))
	} else {
		a.say("%s: unchanged, not rewritten: %s, %s", r.File, count(r.Tiles, "tile"), measure.Size(r.Bytes))
	}
	if r.Requests == 0 {
		a.say("nothing was fetched: the office store knows all %s wanted, still fresh", count(r.Wanted, "tile"))
		return
	}
	a.say("fetched %d (%s), confirmed unchanged %d, reused %d, absent at the source %d; %s in %s",
		r.Fetched, measure.Size(r.Received), r.Unchanged, r.Reused, r.Absent, count(r.Requests, "request"),
		measure.Seconds(r.Seconds))
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
