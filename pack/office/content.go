package office

import (
	"context"
	"groundsheet/pack"
	"groundsheet/pack/plan"
	"groundsheet/tiles/source"
	"time"
)

// content is what goes into the pack, as the store has it now.
func (b base) content(ctx context.Context) (pack.Content, error) {
	p := b.plan
	found := p.Suspects
	if b.asks() > 0 { // fetching may have brought new ones
		var err error
		if found, err = plan.Suspects(ctx, b.shelf); err != nil {
			return pack.Content{}, err
		}
	}
	derived := b.derived()
	return pack.Content{
		About: about(p), Terms: p.Source.Terms, Bounds: p.Packed.Bounds, Covers: p.Covers, Area: p.Packed.Area,
		Overlays: p.Packed.Overlays, Derived: &derived, Quality: p.Base.Quality, Tiles: b.shelf,
		Placeholder: p.Source.Placeholder, Suspects: found,
	}, nil
}

// seals are the hashes that a pack of the plan would hold of its area and overlays.
func seals(p plan.Plan) map[string]string {
	all := pack.OverlaySeals(p.Packed.Overlays)
	all[pack.AreaPart] = pack.AreaSeal(p.Packed.Area)
	return all
}

// about is what a pack of the plan says of the job; what comes with writing
// (counts, times, hashes) is left out.
func about(p plan.Plan) pack.About {
	j, src := p.Job, p.Source
	missing, nothingHere := pack.Gaps(j.Expected, p.Overlays, p.Ground.Area, j.Margin.Meters())
	a := pack.About{
		Name: j.Name, Number: j.Number, Units: j.Units, OneCall: j.OneCall,
		Invented: j.Invented || src.Kind == source.KindPractice,
		Source:   pack.AboutSource{Name: src.Name, Attribution: src.Attribution, Captured: src.Captured},
		Ticket:   j.Ticket, Tolerance: j.Tolerance, Rules: j.Rules, Expected: j.Expected, ExpectedMissing: missing, NothingHere: nothingHere,
		OnlyNear: pack.OnlyNear(j.Expected, missing, p.Overlays, p.Ground.Area),
		Records:  pack.Records{OlderThanS: time.Duration(j.OlderThan).Seconds(), DepthGapM: j.DepthGap.Meters(), DepthSlope: j.DepthSlope},
		MarginM:  j.Margin.Meters(), FitInBytes: int64(j.FitIn), JPEGQuality: p.Base.Quality,
		Zooms: [2]int{p.Base.Zooms.Min, p.Base.Zooms.Max}, TileSize: src.TileSize,
		GroundResolution: deepestResolution(p),
	}
	if src.Terms != nil {
		a.Source.Reference, a.Source.Permission, a.Source.CopiesOnPhones = src.Terms.Reference, src.Terms.Permission, src.Terms.CopiesOnPhones
	}
	return a
}

func deepestResolution(p plan.Plan) float64 {
	if len(p.Zooms) == 0 {
		return 0
	}
	return p.Zooms[len(p.Zooms)-1].GroundResolution
}
