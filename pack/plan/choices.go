package plan

import (
	"cmp"
	"context"
	"fmt"
	"slices"

	"groundsheet/pack/job"
	"groundsheet/tiles"
	"groundsheet/tiles/words"
)

// Where a reading of the job can be placed on the picture.
const (
	Everywhere = "everywhere"
	NearLines  = "near lines"
	Nowhere    = "nowhere"
)

// givenUp is what a proposal gives up, the least first: nothing, zooms that a reading
// does not need, megabytes and time, the ground far from lines, and so forth.
var givenUp = []string{"", "spare", "more", "deep", "quality", "margin", "zooms"}

// Choices are the plan as it stands and what could be chosen instead: what was
// proposed, without a deep_along that is set, and as deep as the reading needs. The
// first is the best: a reading can be placed, it fits, and the least is given up. It
// asks no server. Options are those that the plan was made with.
func (p Plan) Choices(ctx context.Context, o Options) ([]Choice, error) {
	if len(p.Zooms) == 0 {
		return []Choice{}, nil
	}
	all := []Choice{p.asDrawn()}
	if p.Fits() {
		p.Instead = nil
		p.proposeDeep()
	}
	all = append(all, p.Instead...)
	for _, other := range []func(context.Context, Options) (*Choice, error){p.whole, p.asDeepAsNeeded} {
		more, err := other(ctx, o)
		if err != nil {
			return nil, err
		}
		if more != nil {
			all = append(all, *more)
		}
	}
	slices.SortStableFunc(all, func(a, b Choice) int {
		keepsA, keepsB := a.Places != Nowhere, b.Places != Nowhere
		return cmp.Or(yes(keepsB)-yes(keepsA), yes(b.Fits)-yes(a.Fits),
			cmp.Compare(slices.Index(givenUp, a.GivesUp), slices.Index(givenUp, b.GivesUp)))
	})
	return all, nil
}

func yes(is bool) int {
	if is {
		return 1
	}
	return 0
}

// places says whether a reading can be placed at a zoom.
func (p *Plan) places(zoom int) string {
	if p.pixels(zoom) < pixelsToPlace {
		return Nowhere
	}
	return Everywhere
}

// asDrawn is the plan as it stands.
func (p *Plan) asDrawn() Choice {
	o := Choice{What: words.Say("plan.as_drawn"), Tiles: p.Tiles, Bytes: p.Bytes, Fits: p.Fits(), Set: []Setting{},
		Places: p.places(p.Base.Zooms.Max)}
	if from := cmp.Or(p.Base.DeepFrom, p.Base.Zooms.Max); p.Base.DeepAlong > 0 && o.Places == Everywhere &&
		p.places(from-1) == Nowhere {
		o.Places = NearLines
	}
	return o
}

// whole is the plan without its deep_along.
func (p *Plan) whole(ctx context.Context, o Options) (*Choice, error) {
	if p.Base.DeepAlong == 0 {
		return nil, nil
	}
	b := p.Job.Bases[o.Base]
	b.DeepAlong, b.DeepFrom = 0, 0
	return p.instead(ctx, o, b, Choice{
		What: words.Say("plan.whole"), Write: "take deep_along out of [[base]]", GivesUp: "more",
		Set: []Setting{p.setting("base.deep_along", nil), p.setting("base.deep_from", nil)},
	})
}

// asDeepAsNeeded is the plan down to the zoom at which the reading can be placed,
// where the job stops above it and the source does not.
func (p *Plan) asDeepAsNeeded(ctx context.Context, o Options) (*Choice, error) {
	need := p.Advice.ZoomToPlace
	if !p.Advice.CanPlace || need <= p.Base.Zooms.Max {
		return nil, nil
	}
	b := p.Job.Bases[o.Base]
	b.Zooms, b.Auto = tiles.Zooms{Min: p.Base.Zooms.Min, Max: need}, false
	return p.instead(ctx, o, b, Choice{
		What: words.Say("plan.deeper", "placing", p.placing(need)), GivesUp: "more",
		Write: fmt.Sprintf("zooms = [%d, %d] in [[base]]", b.Zooms.Min, need),
		Set:   []Setting{p.setting("base.zooms", []int{b.Zooms.Min, need})},
	})
}

// instead plans another base in the place of this one; nil where that is refused.
func (p *Plan) instead(ctx context.Context, o Options, b job.Base, with Choice) (*Choice, error) {
	o.Inputs.Job.Bases = slices.Clone(o.Inputs.Job.Bases)
	o.Inputs.Job.Bases[o.Base] = b
	other, err := New(ctx, o)
	if err != nil || other.Refused != nil {
		return nil, err
	}
	drawn := other.asDrawn()
	with.Tiles, with.Bytes, with.Fits, with.Places = drawn.Tiles, drawn.Bytes, drawn.Fits, drawn.Places
	return &with, nil
}
