package desk

import (
	"context"
	"errors"
	"slices"
	"time"

	"groundsheet/pack"
	"groundsheet/pack/check"
	"groundsheet/pack/job"
	"groundsheet/pack/office"
	"groundsheet/pack/plan"
	"groundsheet/pack/record"
	"groundsheet/tiles/area"
	"groundsheet/tiles/measure"
)

// The states of a job in the list.
const (
	unreadable  = "unreadable" // job.toml or a file that it names
	neverPacked = "never packed"
	jobChanged  = "changed"    // the pack is of an earlier state of the job
	notProved   = "not proved" // the pack could not be held against the job
	fit         = "fit"
	notFit      = "not fit"
)

// facts are what takes work to know of a job: its files are read, its pack is checked
// against them, and its plan is held against the store. No source is asked.
type facts struct {
	State    string     `json:"state"`
	Why      string     `json:"why"`     // of all but fit and never packed
	Checked  time.Time  `json:"checked"` // when this was found
	Area     string     `json:"area"`    // its size, for people
	Bounds   []float64  `json:"bounds"`  // west, south, east, north, as of a job's document; none when they are not known
	Notified int        `json:"notified"`
	Missing  []string   `json:"missing"`  // of the notified utilities: nothing is recorded near the area
	Records  int        `json:"records"`  // files of records
	Bytes    int64      `json:"bytes"`    // of the packs; of the estimate when there is none
	Estimate bool       `json:"estimate"` // Bytes is one
	Due      *time.Time `json:"due"`      // when the first tile that is held becomes stale, or became so
	Asks     []ask      `json:"asks"`
}

// ask is what a source would be asked for to pack a job now.
type ask struct {
	Source  string   `json:"source"`
	Tiles   int64    `json:"tiles"`
	Seconds float64  `json:"seconds"`
	Hours   []string `json:"hours"`   // when the terms allow it; none = always
	Refused string   `json:"refused"` // why it may not be asked; "" = it may
}

// factsOf finds out the facts of the job in a folder.
func (d *desk) factsOf(ctx context.Context, s seen) (facts, error) {
	f := facts{State: neverPacked, Checked: d.now(), Bounds: []float64{}, Missing: []string{}, Asks: []ask{}}
	for _, p := range s.Packs {
		f.Bytes += p.Bytes
	}
	if len(s.Packs) > 0 {
		f.State = fit
	}
	w, err := d.office.Open(ctx, s.Dir)
	if err == nil {
		err = errors.Join(f.plan(ctx, w), f.check(ctx, w, s.Packs), w.Close())
	}
	if ctx.Err() != nil {
		return f, ctx.Err()
	}
	if err != nil {
		f.State, f.Why = unreadable, err.Error()
	}
	return f, nil
}

// plan notes what the job wants.
func (f *facts) plan(ctx context.Context, w *office.Workspace) error {
	in := w.Inputs
	f.Area, f.Bounds = areaText(in), boundsOf(in)
	f.Notified, f.Records = len(in.Job.Expected), len(in.Overlays)
	missing, _ := pack.Gaps(in.Job.Expected, in.Overlays, in.Ground.Area, in.Job.Margin.Meters())
	for _, code := range missing {
		if u, err := record.FindUtility(code); err == nil {
			f.Missing = append(f.Missing, u.Name)
		}
	}
	plans, err := w.Plans(ctx)
	if err != nil {
		return err
	}
	for _, p := range plans {
		f.asks(p)
	}
	return nil
}

// areaText is the size of the dig area; what overlaps is counted once.
func areaText(in job.Inputs) string {
	return measure.GroundArea(area.Area{Polygons: in.Ground.Area}.SquareMeters(), in.Job.Units)
}

func (f *facts) asks(p plan.Plan) {
	one := ask{Source: p.Source.Name, Tiles: p.Fetch, Seconds: p.Seconds, Hours: []string{}}
	if p.Refused != nil {
		one.Refused = p.Refused.Error()
	}
	if t := p.Source.Terms; t != nil {
		one.Hours = append(one.Hours, t.Hours.Spans()...)
	}
	f.Asks = append(f.Asks, one)
	if f.State == neverPacked {
		f.Bytes, f.Estimate = f.Bytes+p.Bytes, true
	}
	if !p.Due.IsZero() && (f.Due == nil || p.Due.Before(*f.Due)) {
		f.Due = &p.Due
	}
}

// check notes the worst of the packs: not fit, else of an earlier state of the job, else fit.
func (f *facts) check(ctx context.Context, w *office.Workspace, packs []packFile) error {
	for i := range w.Inputs.Job.Bases {
		path := w.Inputs.Job.PackPath(i)
		if len(packs) > 0 && !slices.ContainsFunc(packs, func(p packFile) bool { return p.File == path }) {
			f.worse(jobChanged, "a base map of the job is not packed")
		}
	}
	for _, p := range packs {
		var o check.Options
		against, err := w.Against(ctx, p.File)
		if o.Against = against; err != nil {
			f.worse(notProved, err.Error())
		}
		r, err := check.Run(ctx, p.File, o)
		switch {
		case ctx.Err() != nil:
			return ctx.Err()
		case err != nil:
			f.worse(notFit, err.Error())
		case r.Verdict == check.Fit:
		case r.Faults == r.Counts["job changed"]+r.Counts["stray"]+r.Counts["missing"] && r.Counts["job changed"] > 0:
			f.worse(jobChanged, r.Findings[0].Detail)
		default:
			f.worse(notFit, r.Findings[0].Detail)
		}
	}
	return nil
}

var severity = []string{fit, notProved, jobChanged, notFit}

func (f *facts) worse(state, why string) {
	if slices.Index(severity, state) > slices.Index(severity, f.State) {
		f.State, f.Why = state, why
	}
}
