package desk

import (
	"context"
	"errors"
	"fmt"
	"time"

	"groundsheet/pack/job"
	"groundsheet/pack/office"
	"groundsheet/tiles/measure"
	"groundsheet/tiles/words"
)

// ready makes jobs ready: plans, packs, checks and briefs each, one job after the other.
// A run waits by itself for the hours of the terms and the next day's budget, and a
// source that fails is asked again for keepTrying.
type ready struct{ d *desk }

const keepTrying = time.Hour

func (s *ready) routes(d *desk) { d.tasks.kind("ready", s.make) }

// readied is what came of a job, for the page.
type readied struct {
	Packs  []packed `json:"packs"`
	Briefs []string `json:"briefs"` // PDF files
}

type packed struct {
	File    string `json:"file"`
	Verdict string `json:"verdict"`
	Bytes   int64  `json:"bytes"`
	Tiles   int64  `json:"tiles"`
	Fetched int64  `json:"fetched"`
}

func (s *ready) make(id, dir string) work {
	return func(ctx context.Context, report func(Progress)) (err error) {
		unlock, err := job.Lock(dir, "the desk, making it ready")
		if err != nil {
			return err
		}
		defer func() { err = errors.Join(err, unlock()) }()
		defer s.d.assessor.forget(id)
		o := s.d.office
		o.Fetch.Patient, o.Fetch.KeepTrying = true, keepTrying
		o.Progress = func(e office.Event) { report(progressOf(e)) }
		report(Progress{Stage: "planning"})
		w, err := o.Open(ctx, dir)
		if err != nil {
			return err
		}
		defer func() { err = errors.Join(err, w.Close()) }()
		out := readied{Packs: []packed{}, Briefs: []string{}}
		for p, err := range w.Pack(ctx, office.PackOptions{}) {
			if err != nil {
				return err
			}
			out.Packs = append(out.Packs, packed{p.File, p.Check.Verdict, p.Bytes, p.Tiles, p.Fetched})
			report(Progress{Stage: "checked", Result: out})
		}
		return nil
	}
}

// progressOf is an event of the office as the progress of a task, in its words.
func progressOf(e office.Event) Progress {
	p := Progress{Stage: string(e.Kind), Done: e.Done, Total: e.Total}
	switch e.Kind {
	case office.Fetching, office.Sampling:
		p.Done = int64(e.Fetched.New + e.Fetched.Unchanged + e.Fetched.Absent)
		p.Text = measure.Size(e.Fetched.Bytes).String()
		if e.Fetched.Failed > 0 {
			p.Text += fmt.Sprintf(", %d failed", e.Fetched.Failed)
		}
	case office.Waiting:
		p.Text = fmt.Sprintf("another run is fetching from %s: waiting for it", e.Plan.Source.Name)
	case office.Paused:
		p.Until, p.Text = &e.Until, fmt.Sprintf("waiting until %s: %s", measure.Moment(e.Until), e.Why)
	case office.Retrying:
		p.Until = &e.Until
		p.Text = words.Say("fetching.trying", "source", e.Plan.Source.Name, "why", e.Why, "time", measure.Moment(e.Until))
	case office.Rewriting:
		p.Text = fmt.Sprintf("%s is damaged: writing it anew", e.Plan.Path)
	}
	return p
}
