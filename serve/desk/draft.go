package desk

import (
	"net/http"

	"groundsheet/pack/job"
	"groundsheet/pack/office"
	"groundsheet/tiles"
	"groundsheet/tiles/fault"
	"groundsheet/tiles/measure"
)

// draft plans what is drawn and not written yet.
type draft struct {
	d      *desk
	drafts *office.Drafts
}

func newDraft(d *desk) *draft { return &draft{d, &office.Drafts{Office: d.office}} }

func (s *draft) routes(d *desk) { d.post("/api/draft/plan", s.plan) }

// drafted is what the page would have: null leaves a value as the job has it.
type drafted struct {
	Job       string       `json:"job"`    // "" = a new one
	Shapes    *[]job.Shape `json:"shapes"` // null = the job's own
	Units     *string      `json:"units"`
	Margin    *string      `json:"margin"`
	Source    *string      `json:"source"`
	Zooms     *[]int       `json:"zooms"` // empty = the plan chooses them
	FitIn     *string      `json:"fit_in"`
	DeepAlong *string      `json:"deep_along"`
	DeepFrom  *int         `json:"deep_from"`
	Quality   *int         `json:"jpeg_quality"`
	Reading   *string      `json:"reading"`
	Base      int          `json:"base"`
	Quick     bool         `json:"quick"` // without choices, to follow a drag
}

func (s *draft) plan(r *http.Request) (any, error) {
	var in drafted
	if err := readJSON(r, &in); err != nil {
		return nil, err
	}
	out := office.Draft{Base: in.Base, Quick: in.Quick}
	units := "us"
	if in.Job != "" {
		seen, err := s.d.look(in.Job)
		if err != nil {
			return nil, err
		}
		if seen.Err != nil {
			return nil, seen.Err
		}
		out.Dir, out.Version, out.Job, units = seen.Dir, seen.Etag, &seen.Job, seen.Job.Units
	}
	if in.Units != nil {
		units = *in.Units
	}
	if in.Shapes != nil {
		whole, odd := job.LookAt(*in.Shapes, units, nil)
		for _, o := range odd {
			if o.Wrong && whole.Empty() {
				return nil, &fault.Fault{Detail: o.What, Remedy: o.Remedy}
			}
		}
		out.Shapes = &whole
	}
	var err error
	if out.Change, err = in.change(); err != nil {
		return nil, err
	}
	return s.drafts.Plan(r.Context(), out)
}

// change reads the values as they would be typed into job.toml.
func (in drafted) change() (func(*job.Job), error) {
	var steps []func(j *job.Job, b *job.Base)
	step := func(f func(j *job.Job, b *job.Base)) { steps = append(steps, f) }
	if in.Units != nil {
		step(func(j *job.Job, _ *job.Base) { j.Units = *in.Units })
	}
	if in.Source != nil {
		step(func(_ *job.Job, b *job.Base) { b.Source = *in.Source })
	}
	if in.DeepFrom != nil {
		step(func(_ *job.Job, b *job.Base) { b.DeepFrom = *in.DeepFrom })
	}
	if in.Quality != nil {
		step(func(_ *job.Job, b *job.Base) { b.Quality = *in.Quality })
	}
	var wrong error
	length := func(key string, text *string, set func(j *job.Job, b *job.Base, d measure.Distance)) {
		if text == nil {
			return
		}
		var d measure.Distance
		var err error
		if *text != "" {
			d, err = measure.ParseDistance(*text)
		}
		if err != nil {
			wrong = &fault.Fault{Place: key, Err: err}
		}
		step(func(j *job.Job, b *job.Base) { set(j, b, d) })
	}
	length("margin", in.Margin, func(j *job.Job, _ *job.Base, d measure.Distance) { j.Margin = d })
	length("deep_along", in.DeepAlong, func(_ *job.Job, b *job.Base, d measure.Distance) { b.DeepAlong = d })
	length("reading", in.Reading, func(j *job.Job, _ *job.Base, d measure.Distance) { j.Reading = d })
	if in.FitIn != nil {
		var size measure.Size
		var err error
		if *in.FitIn != "" {
			size, err = measure.ParseSize(*in.FitIn)
		}
		if err != nil {
			wrong = &fault.Fault{Place: "fit_in", Err: err}
		}
		step(func(j *job.Job, _ *job.Base) { j.FitIn = size })
	}
	if z := in.Zooms; z != nil {
		switch len(*z) {
		case 0:
			step(func(_ *job.Job, b *job.Base) { b.Zooms, b.Auto = tiles.Zooms{}, true })
		case 2:
			step(func(_ *job.Job, b *job.Base) { b.Zooms, b.Auto = tiles.Zooms{Min: (*z)[0], Max: (*z)[1]}, false })
		default:
			wrong = &fault.Fault{Place: "zooms", Detail: "wants two numbers, the shallowest and the deepest", Remedy: "such as [14, 21]"}
		}
	}
	return func(j *job.Job) {
		if in.Base < 0 || in.Base >= len(j.Bases) {
			return // the plan says so
		}
		for _, f := range steps {
			f(j, &j.Bases[in.Base])
		}
	}, wrong
}
