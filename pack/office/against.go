package office

import (
	"context"
	"fmt"
	"os"

	"groundsheet/pack"
	"groundsheet/pack/check"
	"groundsheet/pack/plan"
	"groundsheet/tiles"
	"groundsheet/tiles/fault"
)

// Against is what the job wants now of the base that a pack is of, to hold the pack
// against with [check.Options].
func (w *Workspace) Against(ctx context.Context, path string) (*check.Expectation, error) {
	p, err := pack.Open(ctx, path)
	if err != nil {
		return nil, err
	}
	info := p.Info
	if err := p.Close(); err != nil {
		return nil, err
	}
	plans, err := w.Plans(ctx)
	if err != nil {
		return nil, err
	}
	source := info.About.Source.Name
	of, ok := planOf(plans, path, func(p plan.Plan) bool { return !info.Own || p.Source.Name == source }, info.Zooms)
	if !ok {
		return nil, &fault.Fault{
			Detail: fmt.Sprintf("the pack's base map is from source %q, and the job has none of that", source),
			Remedy: "name the job folder that the pack was made from, or run pack again",
		}
	}
	if of.Refused != nil {
		return nil, fmt.Errorf("the job as it is now may not be packed: %w", of.Refused)
	}
	return &check.Expectation{Covers: of.Covers, About: about(of), Seals: seals(of)}, nil
}

// planOf finds the plan that a pack was made from: by its path, else by source and
// zooms, else by source.
func planOf(plans []plan.Plan, path string, mayBe func(plan.Plan) bool, zooms tiles.Zooms) (best plan.Plan, ok bool) {
	found := 0
	for _, p := range plans {
		rank := 1
		switch {
		case !mayBe(p):
			continue
		case SameFile(p.Path, path):
			rank = 3
		case p.Base.Zooms == zooms:
			rank = 2
		}
		if rank > found {
			best, found = p, rank
		}
	}
	return best, found > 0
}

// SameFile reports whether two paths name one file that is there.
func SameFile(a, b string) bool {
	one, errOne := os.Stat(a)
	two, errTwo := os.Stat(b)
	return errOne == nil && errTwo == nil && os.SameFile(one, two)
}
