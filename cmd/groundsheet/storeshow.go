package main

import (
	"context"
	"fmt"
	"strings"
	"text/tabwriter"
	"time"

	"github.com/spf13/cobra"

	"groundsheet/pack/office"
	"groundsheet/tiles"
	"groundsheet/tiles/measure"
	"groundsheet/tiles/store"
	"groundsheet/tiles/words"
)

func (a *app) storeShowCommand() *cobra.Command {
	var asJSON bool
	c := &cobra.Command{
		Use: "show", Short: "Say what the office store holds, by source and by job",
		Long: `show says what the office store holds of each source, how old it is, what was
spent of today's budget, and what each job wants of it. It changes nothing. With
--json it prints one document: store, sources[source, shelf, known, tiles, holes,
images, bytes, oldest, newest, spent_today, tiles_per_day, waits_until, flaw], jobs[name,
number, folder, base, source, shelf, packed, open, closed, tiles_wanted,
tiles_held, keep_until, keep_reason]. A folder of another computer is shown as COMPUTER:FOLDER.`,
		Args: cobra.NoArgs,
		RunE: func(c *cobra.Command, _ []string) error {
			return a.withStore(c.Context(), func(st store.Store) error { return a.runStoreShow(c.Context(), st, asJSON) })
		},
	}
	c.Flags().BoolVar(&asJSON, "json", false, "print the result as JSON")
	return c
}

func (a *app) runStoreShow(ctx context.Context, st store.Store, asJSON bool) error {
	d, err := a.office().LookAtStore(ctx, st)
	if err != nil {
		return err
	}
	if asJSON {
		return a.json(d, true)
	}
	a.showStore(d)
	return nil
}

func (a *app) showStore(d office.StoreReport) {
	a.say("office store %s", d.Store)
	t := tabwriter.NewWriter(a.out, 0, 8, 2, ' ', 0)
	fmt.Fprintln(t, "  source\ttiles\tholes\timages\tsize\toldest\tnewest\tasked today\t")
	for _, s := range d.Sources {
		fmt.Fprintf(t, "  %s\t%d\t%d\t%d\t%s\t%s\t%s\t%s\t%s\n", s.Source, s.Tiles, s.Holes, s.Images,
			measure.Size(s.Bytes), dayOf(s.Oldest), dayOf(s.Newest), spentOf(s), noteOf(s))
	}
	_ = t.Flush() // a failing stdout is nobody's to tell
	if len(d.Jobs) == 0 {
		a.say("no job was packed from it yet")
		return
	}
	t = tabwriter.NewWriter(a.out, 0, 8, 2, ' ', 0)
	fmt.Fprintln(t, "  job\tnumber\tsource\tpacked\tstate\twanted\theld\tfolder")
	for _, j := range d.Jobs {
		state := "open"
		if !j.Open {
			state = "closed " + dayOf(j.Closed)
		}
		if j.Until != nil {
			state += ", " + keptText(*j.Until, *j.Reason)
		}
		fmt.Fprintf(t, "  %s\t%s\t%s\t%s\t%s\t%d\t%d\t%s\n", j.Name, j.Number, j.Source, dayOf(&j.Packed),
			state, j.Wanted, j.Held, j.Folder)
	}
	_ = t.Flush() // as above
}

// keptText says until when and why a job is to be kept, or that this is over.
func keptText(until, reason string) string {
	if k := (store.Keeping{Until: until}); !k.On(time.Now()) {
		return fmt.Sprintf("was to be kept until %s (%s)", until, reason)
	}
	return fmt.Sprintf("kept until %s (%s)", until, reason)
}

// noteOf is what there is to say of a source besides its numbers.
func noteOf(s office.HeldSource) string {
	var notes []string
	if s.WaitsUntil != nil {
		notes = append(notes, fmt.Sprintf("asked to wait until %s: groundsheet source try %s lifts that if it answers",
			measure.Moment(*s.WaitsUntil), s.Source))
	}
	if s.Newest != nil && (tiles.Origin{Fetched: *s.Newest}).Ahead(time.Now()) {
		notes = append(notes, words.Say("clock.store", "day", dayOf(s.Newest)))
	}
	switch {
	case s.Flaw != nil:
		notes = append(notes, *s.Flaw)
	case !s.Known:
		notes = append(notes, "no sources file knows it any more")
	}
	return strings.Join(notes, "; ")
}

func dayOf(t *time.Time) string {
	if t == nil {
		return "-"
	}
	return t.Local().Format(time.DateOnly)
}

func spentOf(s office.HeldSource) string {
	if s.TilesPerDay == 0 {
		return fmt.Sprint(s.SpentToday)
	}
	return fmt.Sprintf("%d of %d", s.SpentToday, s.TilesPerDay)
}
