package office

import (
	"context"
	"errors"
	"time"

	"groundsheet/tiles/fetch"
	"groundsheet/tiles/source"
	"groundsheet/tiles/store"
)

// StoreReport is what a store holds, by source and by job. It is the shape of
// store show --json.
type StoreReport struct {
	Store   string       `json:"store"`
	Sources []HeldSource `json:"sources"`
	Jobs    []HeldJob    `json:"jobs"`
}

// HeldSource is what is held of one source.
type HeldSource struct {
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

// HeldJob is a base of a job, and what is held of what it wants.
type HeldJob struct {
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

// LookAtStore says what a store holds. It changes nothing.
func (o Office) LookAtStore(ctx context.Context, st store.Store) (StoreReport, error) {
	d := StoreReport{Store: st.Where(), Sources: []HeldSource{}, Jobs: []HeldJob{}}
	jobs, err := st.Jobs(ctx)
	if err != nil {
		return d, err
	}
	known, err := o.ShelfSources(jobs)
	if err != nil {
		return d, err
	}
	names, err := st.Shelves(ctx)
	if err != nil {
		return d, err
	}
	for _, name := range names {
		src, is := known[name]
		line, err := heldSource(ctx, st, name, src, is, o.now())
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
		row, err := heldJob(ctx, st, j)
		if err != nil && !errors.Is(err, store.Damaged) {
			return d, err
		}
		d.Jobs = append(d.Jobs, row)
	}
	return d, nil
}

func heldSource(ctx context.Context, st store.Store, name string, src source.Source, known bool, now time.Time) (HeldSource, error) {
	line := HeldSource{Source: SourceOf(name), Shelf: name, Known: known}
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
	if line.SpentToday, err = shelf.Spent(ctx, terms.Day(now)); err != nil {
		return line, err
	}
	until, err := fetch.Waiting(ctx, shelf, now)
	if !until.IsZero() {
		line.WaitsUntil = &until
	}
	return line, err
}

func heldJob(ctx context.Context, st store.Store, j store.PackedJob) (HeldJob, error) {
	row := HeldJob{
		Name: j.Name, Number: j.Number, Folder: FolderOf(j.Key), Base: j.Base,
		Source: SourceOf(j.Shelf), Shelf: j.Shelf, Packed: j.Packed, Open: j.Open(),
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
