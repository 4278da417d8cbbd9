package main

import (
	"context"
	"maps"
	"slices"

	"github.com/spf13/cobra"

	"groundsheet/pack/office"
	"groundsheet/tiles/store"
	"groundsheet/tiles/store/verify"
	"groundsheet/tiles/words"
)

func (a *app) storeCommand() *cobra.Command {
	c := &cobra.Command{Use: "store", Short: "Look after the office store: show, verify, close, reopen and keep jobs"}
	c.AddCommand(a.storeShowCommand(), a.storeCloseCommand(), a.storeReopenCommand(), a.storeKeepCommand(), a.storeVerifyCommand())
	return c
}

// withStore runs with the store when there is one; without one it says so and
// makes nothing.
func (a *app) withStore(ctx context.Context, do func(store.Store) error) (err error) {
	st, err := a.office().NeedStore(ctx)
	if err != nil {
		return err
	}
	defer func() { closeInto(st.Close, &err) }()
	return do(st)
}

func (a *app) storeCloseCommand() *cobra.Command {
	return &cobra.Command{
		Use: "close DIR…", Short: "Mark jobs as closed, so that prune may take their tiles",
		Long: `close marks jobs as closed: their tiles may be pruned. The job folder may be
gone already. Packing a job opens it again, as store reopen does. Nothing is deleted.`,
		Args: args(1, 0, "no job folder is named", "store close site"),
		RunE: func(c *cobra.Command, args []string) error {
			if err := a.office().CloseJobs(c.Context(), args...); err != nil {
				return err
			}
			for _, dir := range args {
				a.say("closed %s; groundsheet prune --closed takes the tiles that only closed jobs want", dir)
			}
			return nil
		},
	}
}

func (a *app) storeReopenCommand() *cobra.Command {
	return &cobra.Command{
		Use: "reopen DIR…", Short: "Mark closed jobs as open again, so that prune leaves their tiles",
		Long: `reopen marks jobs that were closed as open: their tiles are not pruned any more.
What was pruned meanwhile is fetched when the job is packed.`,
		Args: args(1, 0, "no job folder is named", "store reopen site"),
		RunE: func(c *cobra.Command, args []string) error {
			if err := a.office().ReopenJobs(c.Context(), args...); err != nil {
				return err
			}
			for _, dir := range args {
				a.say("reopened %s; groundsheet pack fetches what was pruned meanwhile", dir)
			}
			return nil
		},
	}
}

func (a *app) storeKeepCommand() *cobra.Command {
	var k store.Keeping
	var noLonger bool
	c := &cobra.Command{
		Use: "keep DIR…", Short: "Keep everything of jobs until a day, for a claim or the like",
		Long: `keep states that nothing of a job may be pruned until a day and for a reason,
such as a claim: prune leaves its tiles, also when the job is closed and also with
--open-too, and names the job and the reason. It holds until the end of that day;
--no-longer takes it back. It keeps tiles of the office store, not the job folder
and not its packs.`,
		Args: args(1, 0, "no job folder is named", `store keep site --until 2027-03-01 --reason "claim 24-117"`),
		RunE: func(c *cobra.Command, args []string) error {
			if noLonger == (k != store.Keeping{}) {
				return wrongUse("it is not said until when and why",
					`give --until 2027-03-01 --reason "claim 24-117", or --no-longer alone`)
			}
			if !noLonger && k.Until == "" {
				return wrongUse("it is not said until when", "give the last day with --until 2027-03-01")
			}
			if err := a.office().KeepJobs(c.Context(), k, args...); err != nil {
				return err
			}
			for _, dir := range args {
				if noLonger {
					a.say("%s: nothing states any more that it is to be kept", dir)
				} else {
					a.say("%s: nothing of it is pruned until the end of %s", dir, k.Until)
				}
			}
			return nil
		},
	}
	c.Flags().StringVar(&k.Until, "until", "", "the last day, such as 2027-03-01")
	c.Flags().StringVar(&k.Reason, "reason", "", "why; prune tells it")
	c.Flags().BoolVar(&noLonger, "no-longer", false, "take it back")
	return c
}

func (a *app) storeVerifyCommand() *cobra.Command {
	var mend, asJSON bool
	c := &cobra.Command{
		Use: "verify", Short: "Prove the office store: files, hashes, every image decoded",
		Long: `verify reads the whole store: the files' own structure, the SHA-256 and every
pixel of each image, records without an image and images without a record. It
changes nothing unless --mend is given: then what is bad is taken out (it is
fetched again when a job wants it), and a damaged file is set aside under
another name, after everything in it that can be read and proves has been saved.
With --json it prints one document: store, sources[source, shelf, tiles, holes,
ahead, flaws, counts, mended, set_aside, saved, findings[kind, tile, detail,
mended]]; ahead counts tiles that say they were fetched later than it is now. At most 100 findings of a kind are listed, counts has them all. Exits with 1
when flaws are left.`,
		Args: cobra.NoArgs,
		RunE: func(c *cobra.Command, _ []string) error {
			return a.withStore(c.Context(), func(st store.Store) error { return a.runVerify(c.Context(), st, mend, asJSON) })
		},
	}
	c.Flags().BoolVar(&mend, "mend", false, "take out what is bad and set damaged files aside")
	c.Flags().BoolVar(&asJSON, "json", false, "print the result as JSON")
	return c
}

// verifyDocument is the shape of store verify --json.
type verifyDocument struct {
	Store   string       `json:"store"`
	Sources []verifyLine `json:"sources"`
}

type verifyLine struct {
	Source string `json:"source"`
	verify.ShelfReport
	Flaws int `json:"flaws"` // not mended
}

func (a *app) runVerify(ctx context.Context, st store.Store, mend, asJSON bool) error {
	m := a.meter("verifying")
	shelves, err := verify.Run(ctx, st, verify.Options{Mend: mend,
		Progress: func(_ string, done, total int64) { m.to(done, total) }})
	m.stop()
	if err != nil {
		return err
	}
	d := verifyDocument{Store: st.Where(), Sources: []verifyLine{}}
	flaws := 0
	for _, s := range shelves {
		line := verifyLine{office.SourceOf(s.Name), s, s.Flaws()}
		if s.Name == verify.Register {
			line.Source = "register of jobs"
		}
		d.Sources = append(d.Sources, line)
		flaws += line.Flaws
	}
	if asJSON {
		err = a.json(d, true)
	} else {
		a.showVerified(d, flaws, mend)
	}
	if err == nil && flaws > 0 {
		return notFit
	}
	return err
}

func (a *app) showVerified(d verifyDocument, flaws int, mend bool) {
	a.say("office store %s", d.Store)
	for _, s := range d.Sources {
		seen := map[string]int{}
		for _, f := range s.Findings {
			if seen[f.Kind]++; seen[f.Kind] <= shown {
				a.say("  %s: %s: %s", s.Source, f.Kind, f.Detail)
			}
		}
		for _, kind := range slices.Sorted(maps.Keys(s.Counts)) {
			if n := s.Counts[kind]; n > shown {
				a.say("  %s: … and %d more of kind %q", s.Source, n-shown, kind)
			}
		}
		if s.Aside != nil {
			a.say("  %s: the damaged file stands aside as %s; saved from it: %s", s.Source, *s.Aside, count(s.Saved, "record"))
		}
		if s.Name == verify.Register {
			if s.Aside != nil {
				a.say("a job that is lost is known again when it is packed again: do that before you prune")
			}
			continue
		}
		a.say("%s: %s proved, %s; %s, %d mended", s.Source, count(s.Tiles, "tile"), count(s.Holes, "hole"), count(s.Flaws+s.Mended, "flaw"), s.Mended)
		if s.Ahead > 0 {
			a.say("%s: %s", s.Source, words.Say("clock.ahead", "n", s.Ahead))
		}
	}
	switch {
	case flaws == 0:
		a.say("the store is sound")
	case mend:
		a.say("%s could not be mended: see above", count(flaws, "flaw"))
	default:
		a.say("nothing was changed: with --mend what is bad is taken out and fetched again when a job wants it")
	}
}
