package desk

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"net/http"
	"sync"
	"time"

	"groundsheet/pack/job"
	"groundsheet/pack/office"
	"groundsheet/tiles/measure"
	"groundsheet/tiles/words"
)

// works packs and refreshes jobs, as tasks. A run waits by itself for the hours of the
// terms and the next day's budget.
type works struct {
	d *desk

	mu      sync.Mutex
	changes map[string]changedPlaces // of the latest refresh, by the job's id
}

// changedPlaces are where a refresh found other images than before.
type changedPlaces struct {
	When   time.Time       `json:"when"`
	Places json.RawMessage `json:"places"` // GeoJSON, a box for each
}

func (s *works) routes(d *desk) {
	s.changes = map[string]changedPlaces{}
	d.tasks.kind("pack", func(id, dir string) work { return s.make(id, dir, false) })
	d.tasks.kind("refresh", func(id, dir string) work { return s.make(id, dir, true) })
	d.get("/api/jobs/{job}/changes", s.changed)
}

// packedBase is what came of one base map of a job.
type packedBase struct {
	File      string         `json:"file"`
	Source    string         `json:"source"`
	Verdict   string         `json:"verdict"`
	Faults    int            `json:"faults"`
	Seal      string         `json:"seal"`
	Bytes     int64          `json:"bytes"`
	Tiles     int64          `json:"tiles"`
	Asked     int64          `json:"asked"` // requests
	Fetched   int64          `json:"fetched"`
	Rewritten bool           `json:"rewritten"`
	Changes   office.Changes `json:"changes"`
}

// tries is how long a source that fails is asked again.
const tries = time.Hour

func (s *works) make(id, dir string, refresh bool) work {
	doing := "the desk, packing"
	if refresh {
		doing = "the desk, refreshing"
	}
	return func(ctx context.Context, report func(Progress)) (err error) {
		unlock, err := job.Lock(dir, doing)
		if err != nil {
			return err
		}
		defer func() { err = errors.Join(err, unlock()) }()
		_, err = s.pack(ctx, id, dir, refresh, report)
		return err
	}
}

// pack packs or refreshes the job in a folder that is locked.
func (s *works) pack(ctx context.Context, id, dir string, refresh bool, report func(Progress)) (bases []packedBase, err error) {
	report(Progress{Stage: "planning"})
	verb := (*office.Workspace).Pack
	if refresh {
		verb = (*office.Workspace).Refresh
	}
	o := s.d.office
	o.Fetch.Patient, o.Fetch.KeepTrying = true, tries
	o.Progress = func(e office.Event) { report(progressOf(e)) }
	w, err := o.Open(ctx, dir)
	if err != nil {
		return nil, err
	}
	defer func() { err = errors.Join(err, w.Close()) }()
	changes := []office.Changes{}
	for p, err := range verb(w, ctx, office.PackOptions{}) {
		if err != nil {
			return bases, err
		}
		bases = append(bases, packedBase{p.File, p.Source, p.Check.Verdict, p.Check.Faults, p.Check.Seal,
			p.Bytes, p.Tiles, p.Requests, p.Fetched, p.Rewritten, p.Changes})
		changes = append(changes, p.Changes)
		report(Progress{Stage: "done", Result: map[string]any{"packs": bases}})
	}
	s.d.tellJob(id, dir)
	if !refresh {
		return bases, nil
	}
	return bases, s.note(id, changes)
}

// note keeps where a refresh found changes, until the next one.
func (s *works) note(id string, changes []office.Changes) error {
	places, err := office.Places(changes...)
	if err != nil {
		return err
	}
	s.mu.Lock()
	defer s.mu.Unlock()
	s.changes[id] = changedPlaces{s.d.now(), places}
	return nil
}

// changed answers with null before a refresh of this desk.
func (s *works) changed(r *http.Request) (any, error) {
	s.mu.Lock()
	defer s.mu.Unlock()
	c, has := s.changes[r.PathValue("job")]
	if !has {
		return nil, nil
	}
	return c, nil
}

// progressOf is an event of the office as the progress of a task, in its words.
func progressOf(e office.Event) Progress {
	p := Progress{Stage: string(e.Kind), Done: e.Done, Total: e.Total}
	switch e.Kind {
	case office.Fetching, office.Sampling:
		p.Done = int64(e.Fetched.New + e.Fetched.Unchanged + e.Fetched.Absent)
		p.Text = measure.Size(e.Fetched.Bytes).String()
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
