package main

import (
	"context"
	"errors"
	"fmt"
	"maps"
	"os"
	"slices"

	"github.com/spf13/cobra"

	"groundsheet/pack"
	"groundsheet/pack/check"
	"groundsheet/pack/office"
	"groundsheet/pack/plan"
	"groundsheet/tiles"
	"groundsheet/tiles/measure"
)

func (a *app) checkCommand() *cobra.Command {
	var f checkFlags
	c := &cobra.Command{
		Use: "check PACK…|JOB…", Short: "Prove that a pack is complete: fit or not fit",
		Long: `check reads the whole pack: the file's structure, every wanted tile decoded and
compared with what was packed, holes, overlays, the ticket. With --against DIR
the pack is compared with the job as it is now, all of it; with --key it must be
signed. With --json it prints one
document a pack: file, verdict ("fit" or "not fit"), seal, tiles_wanted, tiles_held,
holes, bytes, counts, findings[kind, severity, tile, detail]; at most 100
findings of a kind are listed, counts has them all. Exits with 1 when a pack is
not fit. Of a job folder, its packs are checked.

"fit" means: the picture is complete and what is recorded can be read. It says
nothing about the ground.`,
		Args: packArgs,
		RunE: func(c *cobra.Command, args []string) error { return a.runCheck(c.Context(), args, f) },
	}
	c.Flags().StringVar(&f.against, "against", "", "job folder to compare the pack with")
	c.Flags().StringVar(&f.key, "key", "", "public key (Ed25519, PEM) with which the pack must be signed, see pack --sign")
	c.Flags().BoolVar(&f.json, "json", false, "print the result as JSON")
	return c
}

// checkFlags are what check can be told.
type checkFlags struct {
	against, key string
	json         bool
}

func (a *app) runCheck(ctx context.Context, paths []string, f checkFlags) error {
	fit := true
	var errs []error
	paths, err := packFiles(paths)
	if err != nil {
		return err
	}
	o := check.Options{}
	if f.key != "" {
		if o.Key, err = pack.PublicKey(f.key); err != nil {
			return &wrongUse{"--key " + err.Error(), "ask the office for its public key"}
		}
	}
	for _, path := range paths {
		r, err := a.checkOne(ctx, path, f.against, o)
		if err != nil {
			errs = append(errs, err) // the others are looked at all the same
			continue
		}
		fit = fit && r.Verdict == check.Fit
		if !f.json {
			a.showCheck(r)
		} else if err := a.json(r, len(paths) == 1); err != nil {
			return err
		}
	}
	if len(errs) == 0 && !fit {
		return notFit{}
	}
	return errors.Join(errs...)
}

func (a *app) checkOne(ctx context.Context, path, against string, o check.Options) (check.Report, error) {
	m := a.meter("checking")
	defer m.stop()
	o.Progress = m.to
	if against != "" {
		var err error
		if o.Against, err = a.jobNow(ctx, against, path); err != nil {
			return check.Report{}, err
		}
	}
	return check.Run(ctx, path, o)
}

// jobNow works out what the job wants now of the base that the pack is of.
func (a *app) jobNow(ctx context.Context, dir, path string) (job *check.Job, err error) {
	p, err := pack.Open(ctx, path)
	if err != nil {
		return nil, err
	}
	own, name, zooms := p.Info.Own, p.Info.About.Source.Name, p.Info.Zooms
	if err := p.Close(); err != nil {
		return nil, err
	}
	w, err := a.open(ctx, dir)
	if err != nil {
		return nil, err
	}
	defer func() { closeInto(w.close, &err) }()
	plans, err := w.plans(ctx)
	if err != nil {
		return nil, err
	}
	plan, err := planOf(plans, path, func(p plan.Plan) bool { return !own || p.Source.Name == name }, zooms)
	if err != nil {
		return nil, &wrongUse{fmt.Sprintf("the pack's base map is from source %q, and the job has none of that", name), "name the job folder that the pack was made from, or run pack again"}
	}
	if plan.Refused != nil {
		return nil, fmt.Errorf("the job as it is now may not be packed: %w", plan.Refused)
	}
	return &check.Job{Covers: plan.Covers, About: office.About(plan), Seals: office.Seals(plan)}, nil
}

// planOf finds the plan that a pack was made from: by its place, else by source
// and zooms, else by source.
func planOf(plans []plan.Plan, path string, mayBe func(plan.Plan) bool, zooms tiles.Zooms) (plan.Plan, error) {
	best, found := plan.Plan{}, 0
	for _, p := range plans {
		if !mayBe(p) {
			continue
		}
		rank := 1
		if p.Base.Zooms == zooms {
			rank = 2
		}
		if samePlace(p.Path, path) {
			rank = 3
		}
		if rank > found {
			best, found = p, rank
		}
	}
	if found == 0 {
		return best, errors.New("no base fits")
	}
	return best, nil
}

func samePlace(a, b string) bool {
	one, errOne := os.Stat(a)
	two, errTwo := os.Stat(b)
	return errOne == nil && errTwo == nil && os.SameFile(one, two)
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
	seal := ""
	if r.Seal != "" {
		seal = ", seal " + r.Seal
	}
	a.say("%s: %s — %d of %s, %s, %s%s", r.File, r.Verdict, r.TilesHeld, count(r.TilesWanted, "tile"), count(r.Holes, "named hole"), measure.Size(r.Bytes), seal)
	if r.Verdict != check.Fit {
		a.say("do not take this pack to the site")
	}
}
