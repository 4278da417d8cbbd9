package main

import (
	"context"
	"errors"
	"fmt"
	"strings"
	"text/tabwriter"
	"time"

	"github.com/spf13/cobra"

	"groundsheet/pack/office"
	"groundsheet/tiles"
	"groundsheet/tiles/fetch"
	"groundsheet/tiles/measure"
	"groundsheet/tiles/source"
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

// storeDocument is the shape of store show --json.
type storeDocument struct {
	Store   string        `json:"store"`
	Sources []shelfLine   `json:"sources"`
	Jobs    []storeJobRow `json:"jobs"`
}

type shelfLine struct {
	Source      string     `json:"source"`
	Shelf       string     `json:"shelf"`
	Known       bool       `json:"known"` // a sources file still has this source with this address
	Tiles       int64      `json:"tiles"`
	Holes       int64      `json:"holes"`
	Images      int64      `json:"images"` // distinct
	Bytes       int64      `json:"bytes"`  // on the disk
	Oldest      *time.Time `json:"oldest"` // fetched or confirmed
	Newest      *time.Time `json:"newest"`
	SpentToday  int        `json:"spent_today"`   // requests that count for the daily budget
	TilesPerDay int        `json:"tiles_per_day"` // 0 = no limit stated
	WaitsUntil  *time.Time `json:"waits_until"`   // the source asked a run to wait
	Flaw        *string    `json:"flaw"`          // why it could not be looked at
}

type storeJobRow struct {
	Name   string     `json:"name"`
	Number string     `json:"number"`
	Folder string     `json:"folder"`
	Base   int        `json:"base"`
	Source string     `json:"source"`
	Shelf  string     `json:"shelf"`
	Packed time.Time  `json:"packed"`
	Open   bool       `json:"open"`
	Closed *time.Time `json:"closed"`
	Wanted int64      `json:"tiles_wanted"`
	Held   int64      `json:"tiles_held"` // images and holes
	Until  *string    `json:"keep_until"` // the last day; null = it is not stated that it is to be kept
	Reason *string    `json:"keep_reason"`
}

func (a *app) runStoreShow(ctx context.Context, st store.Store, asJSON bool) error {
	d, err := a.lookAtStore(ctx, st)
	if err != nil {
		return err
	}
	if asJSON {
		return a.json(d, true)
	}
	a.showStore(d)
	return nil
}

func (a *app) lookAtStore(ctx context.Context, st store.Store) (storeDocument, error) {
	d := storeDocument{Store: st.Where(), Sources: []shelfLine{}, Jobs: []storeJobRow{}}
	jobs, err := st.Jobs(ctx)
	if err != nil {
		return d, err
	}
	known, err := a.office().ShelfSources(jobs)
	if err != nil {
		return d, err
	}
	names, err := st.Shelves(ctx)
	if err != nil {
		return d, err
	}
	for _, name := range names {
		src, is := known[name]
		line, err := shelfLineOf(ctx, st, name, src, is)
		if errors.Is(err, store.Damaged) { // the rest of the store is shown all the same
			flaw := err.Error()
			line.Flaw, err = &flaw, nil
		}
		if err != nil {
			return d, err
		}
		d.Sources = append(d.Sources, line)
	}
	for _, j := range jobs {
		row, err := jobRowOf(ctx, st, j)
		if err != nil && !errors.Is(err, store.Damaged) {
			return d, err
		}
		d.Jobs = append(d.Jobs, row)
	}
	return d, nil
}

func shelfLineOf(ctx context.Context, st store.Store, name string, src source.Source, known bool) (shelfLine, error) {
	line := shelfLine{Source: office.SourceOf(name), Shelf: name, Known: known}
	shelf, err := st.Shelf(name)
	if err != nil {
		return line, err
	}
	z, err := shelf.Size(ctx)
	if err != nil {
		return line, err
	}
	line.Tiles, line.Holes, line.Images, line.Bytes = z.Tiles, z.Holes, z.Images, z.Bytes
	if !z.Oldest.IsZero() {
		line.Oldest, line.Newest = &z.Oldest, &z.Newest
	}
	terms := &source.Terms{}
	if src.Terms != nil {
		terms = src.Terms
	}
	line.TilesPerDay = terms.TilesPerDay
	if line.SpentToday, err = shelf.Spent(ctx, terms.Day(time.Now())); err != nil {
		return line, err
	}
	until, err := fetch.Waiting(ctx, shelf, time.Now())
	if !until.IsZero() {
		line.WaitsUntil = &until
	}
	return line, err
}

func jobRowOf(ctx context.Context, st store.Store, j store.PackedJob) (storeJobRow, error) {
	row := storeJobRow{
		Name: j.Name, Number: j.Number, Folder: office.FolderOf(j.Key), Base: j.Base,
		Source: office.SourceOf(j.Shelf), Shelf: j.Shelf, Packed: j.Packed, Open: j.Open(),
	}
	if !j.Open() {
		row.Closed = &j.Closed
	}
	if j.Keep != (store.Keeping{}) {
		row.Until, row.Reason = &j.Keep.Until, &j.Keep.Reason
	}
	shelf, err := st.Shelf(j.Shelf)
	if err != nil {
		return row, err
	}
	for _, c := range j.Covers {
		row.Wanted += int64(c.Count())
	}
	for p, err := range store.Compare(ctx, shelf, false, j.Covers...) {
		if err != nil {
			return row, err
		}
		if p.Has {
			row.Held++
		}
	}
	return row, nil
}

func (a *app) showStore(d storeDocument) {
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
func noteOf(s shelfLine) string {
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

func spentOf(s shelfLine) string {
	if s.TilesPerDay == 0 {
		return fmt.Sprint(s.SpentToday)
	}
	return fmt.Sprintf("%d of %d", s.SpentToday, s.TilesPerDay)
}
