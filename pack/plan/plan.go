// Package plan works out what a base map of a job wants: its tiles, what of them
// the office store holds, their weight and time, and what could be given up.
package plan

import (
	"context"
	"fmt"
	"maps"
	"path/filepath"
	"time"

	"groundsheet/pack"
	"groundsheet/pack/job"
	"groundsheet/tiles"
	"groundsheet/tiles/fault"
	"groundsheet/tiles/source"
	"groundsheet/tiles/store"
)

// maxRows bounds the time for a cover: 400,000 rows of zoom 24 are some 700 km.
const maxRows = 400_000

// Options says what to plan. Shelf may be nil: nothing is held then.
type Options struct {
	Inputs job.Inputs
	Base   int // index into Inputs.Job.Bases
	Source source.Source
	Shelf  store.Shelf
	Now    func() time.Time // nil = time.Now
}

func (o Options) now() time.Time {
	if o.Now != nil {
		return o.Now()
	}
	return time.Now()
}

// ZoomPlan is one line of a plan. Tiles = Held + Absent + (never asked for);
// Stale counts those of Held and Absent that have to be confirmed.
type ZoomPlan struct {
	Zoom             int     `json:"zoom"`
	Tiles            int64   `json:"tiles"`
	Held             int64   `json:"held"`
	Absent           int64   `json:"absent"`
	Placeholders     int64   `json:"placeholders"` // of Absent: held pictures that the operator named as no imagery
	Stale            int64   `json:"stale"`
	Ahead            int64   `json:"ahead"`               // of Stale: they say that they were fetched later than it is now
	Fetch            int64   `json:"fetch"`               // requests this zoom will cost
	BytesEstimate    int64   `json:"bytes_estimate"`      // of all tiles of this zoom in the pack
	SecondsEstimate  float64 `json:"seconds_estimate"`    // of fetching at the source's polite rate
	GroundResolution float64 `json:"ground_resolution_m"` // meters a pixel at the middle of the area
	Guessed          bool    `json:"guessed"`             // nothing of this source has been measured yet
}

// Plan is what a base of a job wants, and what of it is held.
type Plan struct {
	job.Inputs
	Document
	Base    job.Base // with the zooms that were chosen or cut
	Source  source.Source
	Path    string        // where its pack goes
	Covers  []tiles.Cover // one a zoom, shallow to deep
	Refused error         // why it may not be fetched; nil when it may
	Due     time.Time     // when the first of the held tiles becomes stale; zero = none is held

	number int // of the base, from 0
}

// New plans a base. It asks no server and writes nothing. An error
// means the job cannot be planned; a plan that may not be fetched comes back
// with Refused set.
func New(ctx context.Context, o Options) (Plan, error) {
	j := o.Inputs.Job
	p := Plan{Inputs: o.Inputs, Base: j.Bases[o.Base], Source: o.Source, Path: j.PackPath(o.Base), number: o.Base}
	p.Document = Document{
		JobName: j.Name, SourceName: o.Source.Name, FitIn: int64(j.FitIn), Notes: append([]string{}, o.Inputs.Notes...),
		Zooms: []ZoomPlan{}, Instead: []Choice{}, Suspects: []pack.Suspect{},
	}
	err := p.work(ctx, o)
	p.Document.Fits = p.Fits()
	if p.Refused != nil {
		why := p.Refused.Error()
		p.Document.Refused = &why
	}
	return p, err
}

func (p *Plan) work(ctx context.Context, o Options) error {
	zooms, advice := zoomsOf(o.Inputs, p.Base, o.Source)
	p.Base.Zooms, p.Advice = zooms, advice
	if p.Refused = p.refusal(); p.Refused != nil {
		return nil // nothing is computed for what may not be fetched
	}
	p.Covers = coversOf(p.Job, p.Base, p.Area, p.Overlays)
	if p.Refused = p.empty(); p.Refused != nil {
		return nil
	}
	for _, c := range p.Covers {
		p.Tiles += int64(c.Count())
	}
	if p.Refused = p.tooMany(); p.Tiles > pack.MaxTiles {
		return nil // walking the store would take long for nothing
	}
	if err := p.countHeld(ctx, o); err != nil {
		return err
	}
	return p.propose(ctx, o)
}

// refusal says why nothing may be fetched, whatever the number of tiles.
func (p *Plan) refusal() error {
	if err := p.Source.Refusal(); err != nil {
		return err
	}
	z, has := p.Base.Zooms, p.Source.Zooms
	if z.Min < has.Min || z.Max > has.Max {
		return p.refuse(fmt.Sprintf("the job asks for zooms %d to %d, the source has %d to %d", z.Min, z.Max,
			has.Min, has.Max),
			fmt.Sprintf("set zooms within [%d, %d] in %s; deeper ones would only magnify", has.Min, has.Max, job.FileName))
	}
	if b := p.Source.Bounds; b != nil && disjoint(*b, p.Area.Bounds()) {
		return p.refuse("the job lies outside the ground that the source covers",
			"use another source, or fix bounds in sources.toml")
	}
	if native := p.Advice.NativeZoom; native != nil && *native < z.Min && !p.Base.Magnified {
		return p.implausible(fmt.Sprintf("the source's picture is all there at zoom %d, and the job begins at zoom %d",
			*native, z.Min),
			"begin shallower, or write magnified = true in [[base]] to fetch what only magnifies")
	}
	if rows := rowsAt(p.Area.Bounds(), z.Max); rows > maxRows {
		return p.implausible(fmt.Sprintf("the area is %d rows of tiles high at zoom %d; more than %d is taken for a slip",
			rows, z.Max, maxRows),
			"make the area or the zooms smaller, or split the job")
	}
	return nil
}

// empty says whether a zoom was thinned to nothing.
func (p *Plan) empty() error {
	for _, c := range p.Covers {
		if c.Count() == 0 {
			return p.implausible(fmt.Sprintf("nothing is recorded near the area, so deep_along leaves no tile at zoom %d",
				c.Zoom()),
				"take deep_along out, or make it longer")
		}
	}
	return nil
}

// tooMany says whether there are more tiles than may be had.
func (p *Plan) tooMany() error {
	if limit := int64(p.Source.Terms.TilesPerJob); limit > 0 && p.Tiles > limit {
		return p.refuse(fmt.Sprintf("the job wants %d tiles, the terms allow %d a job", p.Tiles, limit),
			"make the area, the margin or the zooms smaller, or agree on more with the provider")
	}
	if p.Tiles > pack.MaxTiles {
		return p.implausible(fmt.Sprintf("the job wants %d tiles; more than %d is taken for a slip", p.Tiles, pack.MaxTiles),
			"make the area or the zooms smaller, or split the job")
	}
	return nil
}

// implausible refuses what the job cannot have meant; the source is not at fault.
func (p *Plan) implausible(why, remedy string) error {
	return &fault.Fault{Kind: job.Invalid, Place: filepath.Join(p.Job.Dir, job.FileName), Detail: why, Remedy: remedy}
}

func (p *Plan) refuse(why, remedy string) error {
	return source.Refuse(p.Source.Name, why, remedy)
}

// rowsAt is the height of a box in rows of tiles.
func rowsAt(b tiles.Box, zoom int) int64 {
	return int64(tiles.At(b.West, b.South, zoom).Y) - int64(tiles.At(b.West, b.North, zoom).Y) + 1
}

func disjoint(a, b tiles.Box) bool {
	return a.West > b.East || a.East < b.West || a.South > b.North || a.North < b.South
}

// What a pack weighs besides its images: page space, where each tile came
// from, indexes; and what every pack has. Measured on packs of 60 to 6,000
// tiles.
const (
	bytesPerTile = 1_200
	bytesPerPack = 50_000
)

// countHeld compares the covers with the store and adds up the zooms.
func (p *Plan) countHeld(ctx context.Context, o Options) error {
	known, err := readMeasured(ctx, p, o)
	if err != nil {
		return err
	}
	p.Bytes = bytesPerPack
	for _, packed := range p.Packed.Overlays {
		p.Bytes += int64(len(packed.Features))
	}
	found, err := suspects(ctx, o.Source, o.Shelf)
	if err != nil {
		return err
	}
	_, lat := p.Middle()
	for _, c := range p.Covers {
		line, err := p.line(ctx, c, lat, o, known, found)
		if err != nil {
			return err
		}
		p.Zooms = append(p.Zooms, line)
		p.Fetch += line.Fetch
		p.Bytes += line.BytesEstimate
		p.Seconds += line.SecondsEstimate
		p.Guessed = p.Guessed || line.Guessed
	}
	p.Timed = known.perSecond > 0
	p.Suspects = pack.ListSuspects(maps.Values(found))
	p.Days = days(p.Fetch, p.Source.Terms)
	return nil
}

// days is how many days a budget makes of so many requests.
func days(requests int64, t *source.Terms) int64 {
	if t == nil || t.TilesPerDay <= 0 {
		return 0
	}
	return (requests + int64(t.TilesPerDay) - 1) / int64(t.TilesPerDay)
}

func (p *Plan) line(ctx context.Context, c tiles.Cover, lat float64, o Options, known measured,
	found map[[32]byte]*pack.Suspect) (ZoomPlan, error) {
	line := ZoomPlan{
		Zoom: c.Zoom(), Tiles: int64(c.Count()),
		GroundResolution: tiles.GroundResolution(lat, c.Zoom(), p.Source.TileSize),
	}
	heldBytes, fresh, err := p.holdings(ctx, o, c, found, &line)
	if err != nil {
		return line, err
	}
	line.Fetch = line.Tiles - fresh
	unknown := line.Tiles - line.Held - line.Absent
	each, guessed := known.weights.tile(c.Zoom())
	images := float64(heldBytes) + float64(unknown)*each
	line.BytesEstimate = int64(images*known.shrink) + (line.Tiles-line.Absent)*bytesPerTile
	line.Guessed = guessed && unknown > 0
	if rate := known.rate(p.Source); rate > 0 {
		line.SecondsEstimate = float64(line.Fetch) / rate
	}
	return line, nil
}

// Fits reports whether the estimate stays within the job's fit_in.
func (p Plan) Fits() bool { return p.Job.FitIn == 0 || p.Bytes <= int64(p.Job.FitIn) }

// Document is what a plan comes to, as plan --json prints it. Fields are added, never renamed.
type Document struct {
	JobName    string         `json:"job"`
	SourceName string         `json:"source"`
	Zooms      []ZoomPlan     `json:"zooms"`
	Tiles      int64          `json:"tiles"`
	Fetch      int64          `json:"fetch"`
	Bytes      int64          `json:"bytes_estimate"`
	Seconds    float64        `json:"seconds_estimate"`
	Guessed    bool           `json:"guessed"` // some of Bytes rests on a default, not on measured tiles
	Timed      bool           `json:"timed"`   // Seconds rests on the measured speed of the source, not on the terms alone
	FitIn      int64          `json:"fit_in"`
	Fits       bool           `json:"fits"` // see [Plan.Fits]
	Advice     Advice         `json:"advice"`
	Instead    []Choice       `json:"proposals"` // what could be given up, when the estimate is over fit_in
	Suspects   []pack.Suspect `json:"suspects"`  // held images that are most likely no imagery, the most frequent first
	// that fetching takes by the daily budget, today counted; 0 = none is stated or nothing to fetch
	Days    int64    `json:"days"`
	Notes   []string `json:"notes"`   // what was left out of the job's files or assumed
	Refused *string  `json:"refused"` // why it may not be fetched; nil when it may
}
