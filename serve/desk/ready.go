package desk

import (
	"context"
	"errors"

	"groundsheet/pack/brief"
	"groundsheet/pack/job"
)

// ready makes jobs ready: plans, packs, checks and briefs each, one job after the other.
type ready struct{ works *works }

func (s *ready) routes(d *desk) { d.tasks.kind("ready", s.make) }

// readied is what came of a job, for the page.
type readied struct {
	Packs  []packedBase `json:"packs"`
	Briefs []string     `json:"briefs"` // PDF files
}

func (s *ready) make(id, dir string) work {
	return func(ctx context.Context, report func(Progress)) (err error) {
		unlock, err := job.Lock(dir, "the desk, making it ready")
		if err != nil {
			return err
		}
		defer func() { err = errors.Join(err, unlock()) }()
		out := readied{Briefs: []string{}}
		if out.Packs, err = s.works.pack(ctx, id, dir, false, report); err != nil {
			return err
		}
		for _, p := range out.Packs {
			report(Progress{Stage: "writing the brief", Result: out})
			saved, err := brief.Save(ctx, p.File, "", brief.Options{Now: s.works.d.now})
			if err != nil {
				return err
			}
			out.Briefs = append(out.Briefs, saved.PDF)
		}
		report(Progress{Stage: "done", Result: out})
		return nil
	}
}
