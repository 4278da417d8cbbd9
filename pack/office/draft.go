package office

import (
	"bytes"
	"context"
	"encoding/json"
	"fmt"
	"sync"
	"time"

	"github.com/paulmach/orb"

	"groundsheet/pack/job"
	"groundsheet/pack/plan"
	"groundsheet/tiles"
	"groundsheet/tiles/area"
	"groundsheet/tiles/fault"
	"groundsheet/tiles/geojson"
	"groundsheet/tiles/union"
	"groundsheet/tiles/words"
)

// Drafts plans what is being drawn and is not written yet. It keeps the job that it
// read last, so that a plan can follow a drag. It is safe for use by several
// goroutines. The zero value with an Office is ready.
type Drafts struct {
	Office Office

	mu   sync.Mutex
	last struct {
		dir, version string
		in           job.Inputs
	}
}

// Draft is a job as it would be.
type Draft struct {
	Dir     string         // the job folder that it changes; "" = a new job
	Version string         // of the files in it: while it stays the same they are not read again; "" = always
	Job     *job.Job       // what job.toml says at that version; nil = it is read
	Change  func(*job.Job) // the values that differ; nil = none
	Shapes  *area.Area     // instead of the job's; nil = as the job has them
	Base    int            // which base is planned
	Quick   bool           // without choices, to follow a drag
}

// Drafted is the plan of a draft.
type Drafted struct {
	plan.Document
	Area      string        `json:"area"`      // its size in words
	Total     string        `json:"total"`     // in words, as groundsheet plan says it
	Time      string        `json:"time"`      // how long fetching takes, and what that rests on, in words
	Odd       []string      `json:"odd"`       // held pictures that are most likely no imagery, in words
	Sharpness []string      `json:"sharpness"` // in words
	Terms     string        `json:"terms"`     // in words; "" when it is refused
	Ends      *time.Time    `json:"ends"`      // when fetching is over if it begins now, within hours and quota; null = not known
	Opens     *time.Time    `json:"opens"`     // when the terms' hours allow asking; null when they do now
	Choices   []plan.Choice `json:"choices"`   // the best first
	// GeoJSON to draw: part = "margin", and "tiles" of the deepest zoom, or of one
	// that can be drawn, with its zoom
	Outline json.RawMessage `json:"outline"`
}

// Plan plans a draft. It asks no source and writes nothing. A plan that may not be
// fetched has Refused set; an error says what is wrong with the draft.
func (d *Drafts) Plan(ctx context.Context, draft Draft) (out Drafted, err error) {
	in, err := d.inputs(draft)
	if err != nil {
		return out, err
	}
	sources, err := d.Office.Sources(draft.Dir)
	if err != nil {
		return out, err
	}
	o := plan.Options{Inputs: in, Base: draft.Base, Now: d.Office.Fetch.Now}
	if o.Source, err = sources.Find(in.Job.Bases[draft.Base].Source); err != nil {
		return out, err
	}
	st, err := d.Office.FindStore(ctx)
	if err != nil {
		return out, err
	}
	if st != nil {
		defer closeInto(st, &err)
		if o.Shelf, err = st.Shelf(o.Source.StoreName()); err != nil {
			return out, err
		}
	}
	p, err := plan.New(ctx, o)
	if err != nil {
		return out, err
	}
	return drafted(ctx, p, o, draft.Quick, d.Office.now())
}

// inputs are those of the draft. Files are read only for another version of the job.
func (d *Drafts) inputs(draft Draft) (in job.Inputs, err error) {
	j := job.Job{Name: "new job", Units: "us", Bases: []job.Base{{Auto: true}}}
	if draft.Dir != "" {
		if in, err = d.read(draft); err != nil {
			return in, err
		}
		j = in.Job
		j.Bases = append([]job.Base{}, j.Bases...)
	}
	if draft.Change != nil {
		draft.Change(&j)
	}
	if draft.Base < 0 || draft.Base >= len(j.Bases) {
		return in, fmt.Errorf("the job has no base %d", draft.Base+1)
	}
	shapes, checked := in.Area, j
	if draft.Shapes != nil {
		shapes, checked.Area = *draft.Shapes, []string{"drawn"}
	}
	switch {
	case shapes.Empty():
		return in, &fault.Fault{Kind: job.Invalid, Detail: words.Say("draw.nothing"), Remedy: words.Say("draw.nothing_do")}
	case checked.Check() != nil:
		return in, checked.Check()
	}
	notes := in.Notes
	if in, err = in.Redrawn(j, shapes); draft.Shapes == nil {
		in.Notes = notes
	}
	return in, err
}

func (d *Drafts) read(draft Draft) (in job.Inputs, err error) {
	d.mu.Lock()
	defer d.mu.Unlock()
	if d.last.dir == draft.Dir && d.last.version == draft.Version && draft.Version != "" {
		return d.last.in, nil
	}
	j := draft.Job
	if j == nil {
		read, err := job.Read(draft.Dir)
		if err != nil {
			return in, err
		}
		j = &read
	}
	if in, err = j.ReadInputs(); err == nil {
		d.last.dir, d.last.version, d.last.in = draft.Dir, draft.Version, in
	}
	return in, err
}

func drafted(ctx context.Context, p plan.Plan, o plan.Options, quick bool, now time.Time) (out Drafted, err error) {
	out = Drafted{Document: p.Document, Area: p.AreaWords(), Sharpness: []string{}, Odd: []string{}, Choices: []plan.Choice{}}
	if len(p.Zooms) > 0 {
		out.Total, out.Time, out.Sharpness = p.TotalWords(), p.TimeWords(), p.SharpnessWords()
		for _, s := range p.Suspects {
			out.Odd = append(out.Odd, s.Words())
		}
	}
	if !quick {
		if out.Choices, err = p.Choices(ctx, o); err != nil {
			return out, err
		}
	}
	if t := p.Source.Terms; p.Source.Refusal() == nil {
		out.Terms = p.TermsWords()
		if opens := t.NextOpening(now); opens.After(now) {
			out.Opens = &opens
		}
		spent := 0
		if o.Shelf != nil && t.TilesPerDay > 0 {
			if spent, err = o.Shelf.Spent(ctx, t.Day(now)); err != nil {
				return out, err
			}
		}
		if ends, known := p.Ends(now, spent); known {
			out.Ends = &ends
		}
	}
	out.Outline, err = outlines(p)
	return out, err
}

// Bounds of what is drawn while one drags (the project's own choice, no source): a
// browser follows some thousands of corners.
const (
	mostSpans = 800
)

// outlines is the margin and the wanted tiles as GeoJSON.
func outlines(p plan.Plan) (json.RawMessage, error) {
	var features []geojson.Feature
	if len(p.Ground.Margin) > 0 {
		features = append(features, geojson.Feature{Geometry: area.Fewer(p.Ground.Margin), Properties: map[string]any{"part": "margin"}})
	}
	for i := len(p.Covers) - 1; i >= 0; i-- {
		if c := p.Covers[i]; len(c.Spans()) <= mostSpans || i == 0 {
			if len(c.Spans()) <= mostSpans {
				features = append(features, geojson.Feature{Geometry: border(c),
					Properties: map[string]any{"part": "tiles", "zoom": c.Zoom()}})
			}
			break
		}
	}
	var b bytes.Buffer
	err := geojson.Write(&b, features)
	return b.Bytes(), err
}

// border is the outline of a cover.
func border(c tiles.Cover) orb.MultiPolygon {
	var rows orb.MultiPolygon
	for _, s := range c.Spans() {
		first := tiles.ID{Z: uint32(c.Zoom()), X: s.First, Y: s.Row}.Bounds()
		last := tiles.ID{Z: uint32(c.Zoom()), X: s.Last, Y: s.Row}.Bounds()
		rows = append(rows, orb.Polygon{{{first.West, first.South}, {last.East, first.South},
			{last.East, first.North}, {first.West, first.North}, {first.West, first.South}}})
	}
	if whole, err := union.Of(rows); err == nil {
		return whole
	}
	return rows // draws nearly the same
}
