package brief

import (
	"context"
	"fmt"
	"slices"
	"time"

	"github.com/paulmach/orb"

	"groundsheet/pack"
	"groundsheet/pack/record"
	"groundsheet/pack/record/derive"
	"groundsheet/tiles/fault"
)

// packData is the content of a pack that a brief shows, besides its pictures.
type packData struct {
	pack     *pack.Pack
	about    pack.About
	now      time.Time
	area     orb.MultiPolygon // the dig area
	margin   orb.MultiPolygon // what the base map covers
	offRoute orb.MultiPolygon // of it, what has other reasons than the routes
	routes   []centerline     // the routes of a corridor; none = the sheets are a grid
	overlays []record.Overlay
	derived  derive.Result
	names    map[string]string // of lines, by ID

	finds  bool           // the records are what was found on site
	looked []orb.Geometry // where a crew looked and found nothing

	missing, nothingHere []string // as in pack.About

	shown map[string]bool // utilities of which something is recorded on or near the dig area

	fit        bool // what check says of the pack
	faultCount int
	faults     []string // those that check lists
}

func readPack(ctx context.Context, p *pack.Pack, now time.Time) (packData, error) {
	s := packData{pack: p, about: p.Info.About, now: now}
	if !p.Info.Own {
		return s, &fault.Fault{Kind: pack.NotPack, Place: p.Path, Detail: "it holds base map tiles alone, and no job",
			Remedy: "name a pack that groundsheet pack wrote"}
	}
	ground, err := pack.ReadGround(p.Info.Area)
	if err != nil {
		return s, broken(p, "its area", err)
	}
	s.area, s.margin, s.offRoute, s.routes = ground.Area, ground.Margin, ground.Apart, newCenterlines(ground.Routes)
	if s.overlays, err = readOverlays(ctx, p); err != nil {
		return s, err
	}
	if s.derived, err = deriveResult(ctx, s); err != nil {
		return s, err
	}
	s.names = lineNames(s)
	s.findGaps()
	return s, nil
}

// findGaps takes what the pack says of notified utilities, and derives it again: a
// pack of an earlier version counted files, empty or not.
func (s *packData) findGaps() {
	missing, nothingHere := pack.Gaps(s.about.Expected, s.overlays, s.area, s.about.MarginM)
	s.shown = map[string]bool{}
	for _, o := range s.overlays {
		s.shown[o.Kind.Code] = s.shown[o.Kind.Code] || derive.ShowsNear(o, s.area, pack.Reach(s.about.MarginM))
	}
	s.missing, s.nothingHere = slices.Clone(s.about.ExpectedMissing), nothingHere
	for _, code := range missing {
		if !slices.Contains(s.missing, code) {
			s.missing = append(s.missing, code)
		}
	}
}

func broken(p *pack.Pack, what string, err error) error {
	return &fault.Fault{Kind: pack.NotPack, Place: p.Path, Detail: fmt.Sprintf("%s cannot be read (%v)", what, err),
		Remedy: "pack the job again"}
}

func readOverlays(ctx context.Context, p *pack.Pack) ([]record.Overlay, error) {
	var all []record.Overlay
	for _, s := range p.Info.Overlays {
		o, err := p.ReadOverlay(ctx, s)
		if err != nil {
			return nil, err
		}
		all = append(all, o)
	}
	return all, nil
}

// deriveResult is what was derived when the pack was written. For a pack of an
// earlier version, without it, it is derived now.
func deriveResult(ctx context.Context, s packData) (derive.Result, error) {
	if s.pack.Info.Derived {
		return s.pack.Derived(ctx)
	}
	a := s.about
	o := derive.Options{
		Uncertainty: true, Gap: a.Records.DepthGapM, Limits: derive.Limits{Slope: a.Records.DepthSlope}, Rules: a.Rules,
		SanityOptions: record.SanityOptions{Units: a.Units},
	}
	if a.Tolerance != nil {
		o.EachSide, o.Uncertainty = a.Tolerance.EachSide.Meters(), !a.Tolerance.HideUncertainty
	}
	return derive.From(s.overlays, s.area, o), nil
}
