package main

import (
	"context"
	"path/filepath"
	"slices"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"groundsheet/pack/archive"
	"groundsheet/pack/check"
	"groundsheet/pack/job"
	"groundsheet/tiles/measure"
	"groundsheet/tiles/source"
	"groundsheet/tiles/store"
)

// archiveFlags are the flags of archive.
type archiveFlags struct {
	out          string
	keep         store.Keeping
	verify, json bool
}

func (a *app) archiveCommand() *cobra.Command {
	var f archiveFlags
	c := &cobra.Command{
		Use: "archive JOB | --verify FOLDER", Short: "Keep a job as it was served, in one folder that is proved by hashes",
		Long: `archive copies what a job is made of into a new folder: job.toml and all files of the
job folder, those that it names elsewhere, packs, field books, briefs (one is written
where a pack has none), the terms of the sources as they are stated now, the version of
this program, and SHA256SUMS, a list of the hash of every file that sha256sum reads too.
Each file is read back and compared; only then the folder has its name. An archive is
never written over: the same again is left as it is, anything else is refused. check,
brief and serve take it like a job folder.

With --until and --why nothing of the job in the office store is pruned until the end
of that day, as with store keep.

--verify FOLDER proves every file of an archive by the list, and names what was
changed, what is missing and what came; then it exits with 1. The list has a hash of
its own, whose beginning is told: note it elsewhere, it stands for the whole archive.`,
		Example: `  groundsheet archive site -o /media/STICK/24-117 --until 2036-03-01 --why "claim 24-117"
  groundsheet archive --verify /media/STICK/24-117`,
		Args: args(1, 1, "one job folder is wanted, or an archive with --verify", "archive site"),
		RunE: func(c *cobra.Command, args []string) error {
			if f.verify {
				return a.runArchiveVerify(c.Context(), args[0], f)
			}
			return a.runArchive(c.Context(), args[0], f)
		},
	}
	fl := c.Flags()
	fl.StringVarP(&f.out, "output", "o", "", "the folder to make (else beside the job folder: JOB-archive-DAY)")
	fl.StringVar(&f.keep.Until, "until", "", "the last day on which the job's tiles are kept at least, such as 2036-03-01")
	fl.StringVar(&f.keep.Reason, "why", "", "why they are kept; prune tells it")
	fl.BoolVar(&f.verify, "verify", false, "prove an archive that is there")
	fl.BoolVar(&f.json, "json", false, "print the result as JSON")
	return c
}

func (a *app) runArchive(ctx context.Context, dir string, f archiveFlags) error {
	office := a.office()
	f.keep.Reason = strings.TrimSpace(f.keep.Reason)
	if f.keep != (store.Keeping{}) {
		if f.keep.Until == "" {
			return wrongUse("it is not said until when", "give the last day with --until 2036-03-01")
		}
		if err := office.CheckKeeping(f.keep); err != nil {
			return err
		}
		if known, err := office.Registered(ctx, dir); err != nil {
			return err
		} else if len(known) == 0 {
			return wrongUse("--until: no job in "+dir+" was packed from the office store, so none of its tiles are there to be kept",
				"name the store with --store, or leave --until out")
		}
	}
	j, err := job.Read(dir)
	if err != nil {
		return err
	}
	now := time.Now()
	o := archive.Options{Program: "groundsheet " + version(), Keeping: f.keep, Now: now}
	if o.Sources, err = a.sourcesOf(j); err != nil {
		return err
	}
	if f.out == "" {
		home, err := filepath.Abs(dir)
		if err != nil {
			return err
		}
		f.out = home + "-archive-" + now.Format(time.DateOnly)
	}
	keep := func() error {
		if f.keep == (store.Keeping{}) {
			return nil
		}
		return office.KeepJobs(ctx, f.keep, dir)
	}
	o.Ready = keep
	m := a.meter("archiving")
	o.Progress = m.to
	made, err := archive.Make(ctx, dir, f.out, o)
	m.stop()
	if err == nil && made.Old {
		err = keep()
	}
	if err != nil {
		return err
	}
	if f.json {
		return a.json(made, true)
	}
	a.showArchive(made, f.keep)
	return nil
}

// sourcesOf are the sources of a job's base maps; one that nobody knows any more is told
// and left out, for the packs say what they were made under.
func (a *app) sourcesOf(j job.Job) (all []source.Source, err error) {
	config, err := a.office().Sources(j.Dir)
	if err != nil {
		return nil, err
	}
	for _, b := range j.Bases {
		s, err := config.Find(b.Source)
		if err != nil {
			a.note("note: source %s is not known any more: the archive has what the pack says of its terms", b.Source)
		} else if !slices.ContainsFunc(all, func(o source.Source) bool { return o.Name == s.Name }) {
			all = append(all, s)
		}
	}
	return all, nil
}

func (a *app) showArchive(m archive.Made, k store.Keeping) {
	for _, p := range m.Packs {
		a.say("%s: %s, seal %s", p.File, p.Verdict, p.Seal)
		if p.Verdict != check.Fit {
			a.say("  it is archived as it is; groundsheet check tells why it is not fit")
		}
	}
	for _, b := range m.Books {
		if len(b.Faults) > 0 {
			a.say("%s: not whole: %s; it is archived as it is", b.File, b.Faults[0])
		} else {
			a.say("%s: proved, entries %d, photos %d", b.File, b.Entries, b.Photos)
		}
	}
	what := "archived and read back"
	if m.Old {
		what = "was archived there before, and holds the same: nothing was written"
	}
	a.say("%s: %s; %s, %s, list %s", m.Folder, what, count(m.Files, "file"), measure.Size(m.Bytes), m.ListNameOf())
	if k.Until != "" {
		a.say("nothing of it is pruned from the office store until the end of %s", k.Until)
	}
}

func (a *app) runArchiveVerify(ctx context.Context, folder string, f archiveFlags) error {
	if f.out != "" || f.keep != (store.Keeping{}) {
		return wrongUse("--verify changes nothing: it takes neither -o nor --until", "leave them out")
	}
	sound, err := a.verifyArchive(ctx, folder, f.json, true)
	if err == nil && !sound {
		return notFit
	}
	return err
}

// verifyArchive proves an archive and says what became of its files; sound is false where
// one is not as it was.
func (a *app) verifyArchive(ctx context.Context, folder string, asJSON, alone bool) (sound bool, err error) {
	m := a.meter("verifying")
	v, err := archive.Verify(ctx, folder, m.to)
	m.stop()
	if err != nil {
		return false, err
	}
	if asJSON {
		err = a.json(v, alone)
	} else {
		a.showVerification(v)
	}
	return v.Sound(), err
}

func (a *app) showVerification(v archive.Verification) {
	for _, d := range v.Changed {
		a.say("%s: %s", d.File, d.What)
	}
	if v.Sound() {
		a.say("%s: as it was archived on %s; %s, %s, list %s", v.Folder, v.About.Made.Format(time.DateOnly), count(v.Files, "file"),
			measure.Size(v.Bytes), v.ListNameOf())
	} else {
		a.say("%s: not as it was archived: %s of %d", v.Folder, count(len(v.Changed), "difference"), v.Files)
	}
}
