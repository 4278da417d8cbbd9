package main

import (
	"context"
	"errors"
	"maps"
	"slices"
	"strings"

	"github.com/spf13/cobra"

	"groundsheet/pack"
	"groundsheet/pack/archive"
	"groundsheet/pack/check"
	"groundsheet/pack/fieldbook"
	"groundsheet/tiles/measure"
	"groundsheet/tiles/words"
)

func (a *app) checkCommand() *cobra.Command {
	var f checkFlags
	c := &cobra.Command{
		Use: "check PACK…|JOB…|BOOK…", Short: "Prove that a pack is complete: fit or not fit",
		Long: `check reads the whole pack: the file's structure, every wanted tile, holes,
overlays, the ticket. Every image was decoded when it was packed, so one whose
bytes are the same is not decoded again. --deep decodes all of them; another
program's file is always checked so. With --against DIR the pack is compared with the job
as it is now, all of it; with --key it must be signed. With --json it prints one
document a pack: file, verdict ("fit" or "not fit"), seal, tiles_wanted, tiles_held,
holes, bytes, counts, findings[kind, severity, tile, bounds, detail], faults, deep (every
image was decoded); at most 100 findings of a kind are listed, counts has them
all. Exits with 1 when a pack is not fit. Of a job folder, its packs are checked;
of an archive, every file is proved by its list too, as by archive --verify.

"fit" means: the picture is complete and what is recorded can be read. It says
nothing about the ground.

Of a field book, NAME.fieldbook, the chain of its entries, their texts and its photos are
proved, and what it holds is counted: "whole" or "broken", which ends with 1 too.`,
		Args: args(1, 0, "no pack is named", "check site/out/NAME.mbtiles"),
		RunE: func(c *cobra.Command, args []string) error { return a.runCheck(c.Context(), args, f) },
	}
	c.Flags().StringVar(&f.against, "against", "", "job folder to compare the pack with")
	c.Flags().StringVar(&f.key, "key", "", "public key (Ed25519, PEM) with which the pack must be signed, see pack --sign")
	c.Flags().BoolVar(&f.deep, "deep", false, "decode every image, also those that are the same as when they were packed")
	c.Flags().BoolVar(&f.json, "json", false, "print the result as JSON")
	return c
}

// checkFlags are the flags of check.
type checkFlags struct {
	against, key string
	json, deep   bool
}

func (a *app) runCheck(ctx context.Context, paths []string, f checkFlags) error {
	fit := true
	var errs []error
	folders := slices.DeleteFunc(slices.Clone(paths), func(path string) bool { return !archive.Is(path) })
	for _, folder := range folders { // first: what is missing may be its packs
		sound, err := a.verifyArchive(ctx, folder, f.json, false)
		errs, fit = append(errs, err), fit && sound
	}
	paths, err := packFiles(paths)
	if err != nil {
		return errors.Join(append(errs, err)...)
	}
	o := check.Options{Deep: f.deep}
	if f.key != "" {
		if o.Key, err = pack.PublicKey(f.key); err != nil {
			return wrongUse("--key "+err.Error(), "ask the office for its public key")
		}
	}
	for _, path := range paths {
		if strings.HasSuffix(path, fieldbook.Extension) {
			whole, err := a.checkBook(ctx, path, f.json, len(paths)+len(folders) == 1)
			errs, fit = append(errs, err), fit && whole
			continue
		}
		r, err := a.checkOne(ctx, path, f.against, o)
		if err != nil {
			errs = append(errs, err) // the others are looked at all the same
			continue
		}
		fit = fit && r.Verdict == check.Fit
		if !f.json {
			a.showCheck(r)
		} else if err := a.json(r, len(paths)+len(folders) == 1); err != nil {
			return err
		}
	}
	if err := errors.Join(errs...); err != nil || fit {
		return err
	}
	return notFit
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

// jobNow is what the job in a folder wants now of the base that the pack is of.
func (a *app) jobNow(ctx context.Context, dir, path string) (now *check.Expectation, err error) {
	w, err := a.office().Open(ctx, dir)
	if err != nil {
		return nil, err
	}
	defer func() { closeInto(w.Close, &err) }()
	return w.Against(ctx, path)
}

var mark = map[string]string{check.Fault: "FAULT  ", check.Warning: "warning", check.Note: "note   "}

// shown is how many findings of a kind are printed; the rest is counted.
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
	if r.Deep {
		seal += ", " + words.Say("check.decoded")
	}
	a.say("%s: %s — %d of %s, %s, %s%s", r.File, r.Verdict, r.TilesHeld, count(r.TilesWanted, "tile"),
		count(r.Holes, "named hole"), measure.Size(r.Bytes), seal)
	if r.Verdict != check.Fit {
		a.say("do not take this pack to the site")
	}
}
