package desk

import (
	"context"
	"errors"
	"net/http"
	"path/filepath"
	"time"

	"groundsheet/pack/office"
	"groundsheet/tiles/fault"
	"groundsheet/tiles/measure"
	"groundsheet/tiles/store"
)

// keeping looks after the office store: what it holds, what may go, which jobs want it.
type keeping struct{ d *desk }

func (s *keeping) routes(d *desk) {
	d.get("/api/store", s.look)
	d.post("/api/store/prune", s.prune)
	d.get("/api/jobs/{job}/register", s.registered)
	d.post("/api/jobs/{job}/close", s.verb(func(ctx context.Context, dir string) error { return d.office.CloseJobs(ctx, dir) }))
	d.post("/api/jobs/{job}/reopen", s.verb(func(ctx context.Context, dir string) error { return d.office.ReopenJobs(ctx, dir) }))
	d.post("/api/jobs/{job}/keep", s.keep)
}

// storeDocument is the store for the page.
type storeDocument struct {
	office.StoreReport
	Jobs []storeJob `json:"jobs"` // in the place of those of the report
}

type storeJob struct {
	office.HeldJob
	ID   string `json:"id"`   // of the job at this desk
	Here bool   `json:"here"` // its folder is on this computer
	Keep bool   `json:"keep"` // it is to be kept today
}

func (s *keeping) look(r *http.Request) (any, error) {
	doc := storeDocument{StoreReport: office.StoreReport{Sources: []office.HeldSource{}}, Jobs: []storeJob{}}
	st, err := s.d.office.FindStore(r.Context())
	if err != nil || st == nil {
		return doc, err
	}
	doc.StoreReport, err = s.d.office.LookAtStore(r.Context(), st)
	if err := errors.Join(err, st.Close()); err != nil {
		return nil, err
	}
	for _, j := range doc.StoreReport.Jobs {
		one := storeJob{HeldJob: j, ID: idOf(j.Folder), Here: filepath.IsAbs(j.Folder)}
		if j.Until != nil {
			one.Keep = store.Keeping{Until: *j.Until}.On(s.d.now())
		}
		doc.Jobs = append(doc.Jobs, one)
	}
	return doc, nil
}

// registration is a job in the register of the store.
type registration struct {
	Known  bool       `json:"known"` // it was packed from the store
	Open   bool       `json:"open"`
	Packed *time.Time `json:"packed"`
	Closed *time.Time `json:"closed"`
	Until  string     `json:"keep_until"` // "" = not stated
	Reason string     `json:"keep_reason"`
	Keep   bool       `json:"keep"` // it is to be kept today
}

func (s *keeping) registered(r *http.Request) (any, error) {
	dir, err := s.folder(r)
	if err != nil {
		return nil, err
	}
	bases, err := s.d.office.Registered(r.Context(), dir)
	if err != nil {
		return nil, err
	}
	var out registration
	for _, b := range bases {
		out.Known, out.Open = true, out.Open || b.Open()
		if out.Packed == nil || b.Packed.After(*out.Packed) {
			out.Packed = &b.Packed
		}
		if !b.Open() {
			out.Closed = &b.Closed
		}
		out.Until, out.Reason, out.Keep = b.Keep.Until, b.Keep.Reason, b.Keep.On(s.d.now())
	}
	return out, nil
}

// folder is that of a job, also of one in the register whose folder is gone.
func (s *keeping) folder(r *http.Request) (string, error) {
	id := r.PathValue("job")
	dir, err := s.d.job(id)
	if !errors.Is(err, notFound) {
		return dir, err
	}
	st, storeErr := s.d.office.FindStore(r.Context())
	if storeErr != nil || st == nil {
		return "", err
	}
	jobs, storeErr := st.Jobs(r.Context())
	if storeErr := errors.Join(storeErr, st.Close()); storeErr != nil {
		return "", storeErr
	}
	for _, j := range jobs {
		if folder := office.FolderOf(j.Key); folder != j.Key && idOf(folder) == id {
			return folder, nil
		}
	}
	return "", err
}

// verb changes a job in the register, and answers with what it is then.
func (s *keeping) verb(do func(ctx context.Context, dir string) error) handler {
	return func(r *http.Request) (any, error) {
		dir, err := s.folder(r)
		if err == nil {
			err = do(r.Context(), dir)
		}
		if err != nil {
			return nil, err
		}
		s.d.publish("store", nil)
		return s.registered(r)
	}
}

func (s *keeping) keep(r *http.Request) (any, error) {
	var in struct {
		Until  string `json:"until"` // "" takes it back
		Reason string `json:"reason"`
	}
	if err := readJSON(r, &in); err != nil {
		return nil, err
	}
	if in.Until == "" {
		in.Reason = ""
	}
	return s.verb(func(ctx context.Context, dir string) error {
		return s.d.office.KeepJobs(ctx, store.Keeping{Until: in.Until, Reason: in.Reason}, dir)
	})(r)
}

// pruning is what may go, as the page asks for it. With a digest the proposal that has it
// is carried out.
type pruning struct {
	Closed    bool      `json:"closed"`
	OlderThan string    `json:"older_than"` // such as "90d"; "" = age does not count
	DownTo    string    `json:"down_to"`    // such as "20GB"; "" = as large as it is
	Source    string    `json:"source"`     // "" = all
	Digest    string    `json:"digest"`     // of the proposal that was looked at; "" = propose
	AsOf      time.Time `json:"as_of"`      // of that proposal
}

// proposalGood is how long a proposal can be carried out.
const proposalGood = time.Hour

func (p pruning) options() (o office.PruneOptions, err error) {
	o.Closed, o.Source = p.Closed, p.Source
	if p.OlderThan != "" {
		age, err := measure.ParseAge(p.OlderThan)
		if err != nil || age <= 0 {
			return o, &fault.Fault{Place: p.OlderThan, Detail: "is no age", Remedy: "write it as 90d"}
		}
		o.OlderThan = time.Duration(age)
	}
	if p.DownTo != "" {
		size, err := measure.ParseSize(p.DownTo)
		if err != nil || size <= 0 {
			return o, &fault.Fault{Place: p.DownTo, Detail: "is no size", Remedy: "write it as 20GB"}
		}
		o.DownTo = int64(size)
	}
	if !o.Closed && o.OlderThan == 0 && o.DownTo == 0 {
		return o, &fault.Fault{Detail: "nothing says what may go", Remedy: "choose at least one of the three"}
	}
	return o, nil
}

// prune proposes what may go; or carries out a proposal, if it would still be the same.
func (s *keeping) prune(r *http.Request) (any, error) {
	var in pruning
	if err := readJSON(r, &in); err != nil {
		return nil, err
	}
	o, err := in.options()
	if err != nil {
		return nil, err
	}
	now := s.d.now()
	if in.Digest != "" {
		if now.Sub(in.AsOf).Abs() > proposalGood {
			return nil, otherProposal()
		}
		now = in.AsOf
	}
	o.Now = func() time.Time { return now }
	found, err := s.d.office.Prune(r.Context(), o)
	if err != nil {
		return nil, err
	}
	if in.Digest == "" {
		return map[string]any{"proposal": found, "as_of": now}, nil
	}
	if found.Digest != in.Digest {
		return nil, otherProposal()
	}
	o.Apply = true
	o.Planned = func(p office.Pruned) error {
		if p.Digest != in.Digest {
			return otherProposal()
		}
		return nil
	}
	return map[string]any{"task": s.d.tasks.queue("prune", "", func(ctx context.Context, report func(Progress)) error {
		report(Progress{Stage: "pruning"})
		gone, err := s.d.office.Prune(ctx, o)
		if err != nil {
			return err
		}
		s.d.publish("store", nil)
		report(Progress{Stage: "pruned", Result: gone})
		return nil
	})}, nil
}

func otherProposal() error {
	return &fault.Fault{Kind: changed, Detail: "something else would go now than what was looked at", Remedy: "look at the proposal again"}
}
