package office

import (
	"context"
	"fmt"
	"slices"
	"strings"

	"groundsheet/tiles/fault"
	"groundsheet/tiles/store"
	"groundsheet/tiles/store/prune"
)

// PruneOptions say which tiles may go.
type PruneOptions struct {
	prune.Options
	Source  string             // look at the shelves of this source alone; "" = all
	Apply   bool               // take them out; false = only plan
	Planned func(Pruned) error // called before anything is taken out, and may end it; nil = nothing
}

// Pruned is what goes, or went, of the store.
type Pruned struct {
	Applied  bool          `json:"applied"`
	Tiles    int64         `json:"tiles"`
	Holes    int64         `json:"holes"`
	Before   int64         `json:"before_bytes"`
	Estimate int64         `json:"freed_bytes_estimate"`
	DownTo   int64         `json:"down_to_bytes"` // 0 = not asked
	Met      bool          `json:"met"`           // DownTo is reached
	Sources  []PrunedShelf `json:"sources"`
	Kept     int64         `json:"kept_for_open_jobs"`
	OpenJobs []KeptJob     `json:"open_jobs"`
	Until    int64         `json:"kept_until_a_day"` // not in Kept
	KeptJobs []KeptJob     `json:"jobs_kept_until"`
	Digest   string        `json:"digest"`      // of the tiles that go: the same for the same proposal
	Freed    *int64        `json:"freed_bytes"` // nil unless applied
	After    *int64        `json:"after_bytes"`
}

// PrunedShelf is what goes of one shelf.
type PrunedShelf struct {
	Source string `json:"source"`
	prune.ShelfReport
}

// KeptJob is a job that keeps tiles from going.
type KeptJob struct {
	prune.KeptFor
	Folder string `json:"folder"`
}

// Prune plans which tiles may go, and with Apply takes them out.
func (o Office) Prune(ctx context.Context, po PruneOptions) (out Pruned, err error) {
	st, err := o.NeedStore(ctx)
	if err != nil {
		return out, err
	}
	defer closeInto(st, &err)
	if po.Source != "" {
		if err := holdsSource(ctx, st, po.Source); err != nil {
			return out, err
		}
		po.Take = func(shelf string) bool { return SourceOf(shelf) == po.Source }
	}
	p, err := prune.New(ctx, st, po.Options)
	if err != nil {
		return out, err
	}
	out = Pruned{Before: p.Before, Estimate: p.Freed, DownTo: po.DownTo, Met: p.Met, Kept: p.Kept,
		Until: p.Until, Digest: p.Digest, Sources: []PrunedShelf{}, OpenJobs: []KeptJob{}, KeptJobs: []KeptJob{}}
	for _, s := range p.Shelves {
		out.Tiles, out.Holes = out.Tiles+s.Tiles, out.Holes+s.Holes
		out.Sources = append(out.Sources, PrunedShelf{SourceOf(s.Name), s})
	}
	for _, k := range p.KeptFor {
		to := &out.OpenJobs
		if k.Until != "" {
			to = &out.KeptJobs
		}
		*to = append(*to, KeptJob{k, FolderOf(k.Key)})
	}
	if po.Planned != nil {
		if err := po.Planned(out); err != nil {
			return out, err
		}
	}
	if !po.Apply {
		return out, nil
	}
	done, err := p.Apply(ctx)
	if err != nil {
		return out, err
	}
	out.Applied, out.Freed, out.After = true, &done.Freed, &done.After
	out.Tiles, out.Holes = done.Tiles, done.Holes
	return out, nil
}

// holdsSource refuses a source that nothing is held of: a misspelled name would
// otherwise look like an empty store.
func holdsSource(ctx context.Context, st store.Store, name string) error {
	shelves, err := st.Shelves(ctx)
	if err != nil {
		return err
	}
	var held []string
	for _, shelf := range shelves {
		if s := SourceOf(shelf); !slices.Contains(held, s) {
			held = append(held, s)
		}
	}
	if slices.Contains(held, name) {
		return nil
	}
	return &fault.Fault{Detail: fmt.Sprintf("the store holds nothing of a source %q", name),
		Remedy: "it holds: " + strings.Join(held, ", ")}
}
