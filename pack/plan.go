package pack

import (
	"context"
	"fmt"
	"time"

	"groundsheet/tiles"
	"groundsheet/tiles/area"
	"groundsheet/tiles/source"
	"groundsheet/tiles/store"
)

// guessBytes is the weight of a 256-pixel aerial tile before anything of a
// source has been measured: common practice, no source. A plan that uses it
// says so.
const guessBytes = 20_000

// maxTiles keeps a slip of the zoom from becoming a week of fetching: ten
// million tiles are some 200 GB.
const maxTiles = 10_000_000

// PlanOptions says what to plan. Shelf may be nil: nothing is held then.
type PlanOptions struct {
	Job    Job
	Base   int // index into Job.Bases
	Source source.Source
	Shelf  *store.Shelf
	Now    func() time.Time // nil = time.Now
}

// ZoomPlan is one line of a plan. Tiles = Held + Absent + (never asked for);
// Stale counts those of Held and Absent that have to be confirmed.
type ZoomPlan struct {
	Zoom             int     `json:"zoom"`
	Tiles            int64   `json:"tiles"`
	Held             int64   `json:"held"`
	Absent           int64   `json:"absent"`
	Stale            int64   `json:"stale"`
	Fetch            int64   `json:"fetch"`               // requests this zoom will cost
	BytesEstimate    int64   `json:"bytes_estimate"`      // of all tiles of this zoom in the pack
	SecondsEstimate  float64 `json:"seconds_estimate"`    // of fetching at the source's polite rate
	GroundResolution float64 `json:"ground_resolution_m"` // metres a pixel at the middle of the area
}

// Plan is what a base of a job wants, and what of it is held.
type Plan struct {
	Job     Job
	Base    Base
	Source  source.Source
	Area    area.Area
	Covers  []tiles.Cover // one a zoom, shallow to deep
	Zooms   []ZoomPlan
	Tiles   int64
	Fetch   int64
	Bytes   int64
	Seconds float64
	Guessed bool  // some of Bytes rests on a default, not on measured tiles
	Refused error // why it may not be fetched; nil when it may
}

// DrawPlan works out the plan. It asks no server and writes nothing. An error
// means the job cannot be planned; a plan that may not be fetched comes back
// with Refused set.
func DrawPlan(ctx context.Context, o PlanOptions) (Plan, error) {
	p := Plan{Job: o.Job, Base: o.Job.Bases[o.Base], Source: o.Source}
	var err error
	if p.Area, err = o.Job.ReadArea(); err != nil {
		return Plan{}, err
	}
	p.Covers = p.Area.Covers(p.Base.Zooms, o.Job.Margin.Metres())
	for _, c := range p.Covers {
		p.Tiles += int64(c.Count())
	}
	p.Refused = p.refusal()
	if p.Tiles > maxTiles {
		return p, nil // walking the store would take long and tell nothing
	}
	return p, p.look(ctx, o)
}

func (p *Plan) refusal() error {
	refuse := func(why, remedy string) error {
		return &source.Refused{Source: p.Source.Name, Why: why, Remedy: remedy}
	}
	if err := p.Source.Refusal(); err != nil {
		return err
	}
	z, has := p.Base.Zooms, p.Source.Zooms
	if z.Min < has.Min || z.Max > has.Max {
		return refuse(fmt.Sprintf("the job asks for zooms %d to %d, the source has %d to %d", z.Min, z.Max, has.Min, has.Max),
			fmt.Sprintf("set zooms within [%d, %d] in %s; deeper ones would only magnify", has.Min, has.Max, JobFile))
	}
	if b := p.Source.Bounds; b != nil && apart(*b, p.Area.Bounds()) {
		return refuse("the job lies outside the ground that the source covers", "use another source, or mend bounds in sources.toml")
	}
	if limit := int64(p.Source.Terms.TilesPerJob); limit > 0 && p.Tiles > limit {
		return refuse(fmt.Sprintf("the job wants %d tiles, the terms allow %d a job", p.Tiles, limit),
			"make the area, the margin or the zooms smaller, or agree on more with the provider")
	}
	if p.Tiles > maxTiles {
		return refuse(fmt.Sprintf("the job wants %d tiles; more than %d is taken for a slip", p.Tiles, maxTiles),
			"make the area or the zooms smaller, or split the job")
	}
	return nil
}

func apart(a, b tiles.Box) bool {
	return a.West > b.East || a.East < b.West || a.South > b.North || a.North < b.South
}

func (p *Plan) look(ctx context.Context, o PlanOptions) error {
	now := time.Now
	if o.Now != nil {
		now = o.Now
	}
	sizes, err := measured(ctx, o.Shelf)
	if err != nil {
		return err
	}
	for i, c := range p.Covers {
		line := ZoomPlan{
			Zoom: c.Zoom(), Tiles: int64(c.Count()),
			GroundResolution: resolution(p.Area.Bounds(), c.Zoom(), p.Source.TileSize),
		}
		heldBytes, fresh, err := p.holdings(ctx, o.Shelf, p.Covers[i], now(), &line)
		if err != nil {
			return err
		}
		line.Fetch = line.Tiles - fresh
		p.estimate(&line, heldBytes, sizes[c.Zoom()])
		p.Zooms = append(p.Zooms, line)
		p.Fetch += line.Fetch
		p.Bytes += line.BytesEstimate
		p.Seconds += line.SecondsEstimate
	}
	return nil
}

func measured(ctx context.Context, shelf *store.Shelf) (map[int]store.Measure, error) {
	if shelf == nil {
		return nil, nil
	}
	return shelf.Measured(ctx)
}

// holdings counts what the store has of a cover.
func (p *Plan) holdings(ctx context.Context, shelf *store.Shelf, c tiles.Cover, now time.Time, line *ZoomPlan) (bytes, fresh int64, err error) {
	if shelf == nil {
		return 0, 0, nil
	}
	for r, err := range shelf.In(ctx, c, false) {
		if err != nil {
			return 0, 0, err
		}
		if r.Hole {
			line.Absent++
		} else {
			line.Held++
			bytes += int64(r.Bytes)
		}
		if now.Before(r.FreshUntil) {
			fresh++
		} else {
			line.Stale++
		}
	}
	return bytes, fresh, nil
}

// estimate fills in bytes and seconds: held tiles weigh what they weigh, the
// rest the mean of what was measured at that zoom, else the stated guess.
func (p *Plan) estimate(line *ZoomPlan, heldBytes int64, m store.Measure) {
	unknown := line.Tiles - line.Held - line.Absent
	mean, present := float64(guessBytes), 1.0
	if m.Tiles > 0 {
		mean = m.MeanBytes
		present = float64(m.Tiles) / float64(m.Tiles+m.Holes)
	} else if unknown > 0 {
		p.Guessed = true
	}
	line.BytesEstimate = heldBytes + int64(float64(unknown)*mean*present)
	if terms := p.Source.Terms; terms != nil && terms.RequestsPerSecond > 0 {
		line.SecondsEstimate = float64(line.Fetch) / terms.RequestsPerSecond
	}
}

// Fits reports whether the estimate stays within the job's fit_in.
func (p Plan) Fits() bool { return p.Job.FitIn == 0 || p.Bytes <= int64(p.Job.FitIn) }

// Document is the shape of plan --json. Fields are added, never renamed.
type Document struct {
	Job     string     `json:"job"`
	Source  string     `json:"source"`
	Zooms   []ZoomPlan `json:"zooms"`
	Tiles   int64      `json:"tiles"`
	Fetch   int64      `json:"fetch"`
	Bytes   int64      `json:"bytes_estimate"`
	Seconds float64    `json:"seconds_estimate"`
	Guessed bool       `json:"guessed"`
	FitIn   int64      `json:"fit_in"`
	Refused *string    `json:"refused"`
}

// Document gives the plan in its JSON shape.
func (p Plan) Document() Document {
	d := Document{
		Job: p.Job.Name, Source: p.Source.Name, Zooms: p.Zooms, Tiles: p.Tiles, Fetch: p.Fetch,
		Bytes: p.Bytes, Seconds: p.Seconds, Guessed: p.Guessed, FitIn: int64(p.Job.FitIn),
	}
	if p.Refused != nil {
		why := p.Refused.Error()
		d.Refused = &why
	}
	if d.Zooms == nil {
		d.Zooms = []ZoomPlan{}
	}
	return d
}
