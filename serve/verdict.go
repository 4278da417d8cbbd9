package serve

import (
	"context"
	"os"

	"groundsheet/pack/check"
	"groundsheet/tiles/words"
)

// Unchecked is the state of a version that was not checked yet; the others are
// [check.Fit] and [check.NotFit].
const Unchecked = "unchecked"

// firstFaults is how many faults are told in full.
const firstFaults = 5

// Verdict is what is known of one version of a pack. It is about the pack, never
// about the ground.
type Verdict struct {
	State  string   `json:"state"`  // Unchecked, [check.Fit] or [check.NotFit]
	Faults int      `json:"faults"` // how many there are
	First  []string `json:"first"`  // the first of them, a sentence each
}

// newVerdict takes from a report what is told. A pack that could not be looked
// at is not fit: nobody knows what it holds.
func newVerdict(r check.Report, err error, hide func(string) string) *Verdict {
	if err != nil {
		return &Verdict{check.NotFit, 1, []string{words.Say("verdict.unseen", "why", tidy(hide(why(err))))}}
	}
	v := &Verdict{State: r.Verdict, Faults: r.Faults, First: []string{}}
	for _, f := range r.Findings {
		if f.Severity == check.Fault && len(v.First) < firstFaults {
			v.First = append(v.First, tidy(hide(f.Detail)))
		}
	}
	return v
}

// Fit reports whether the version was checked and is fit.
func (v Verdict) Fit() bool { return v.State == check.Fit }

// NotFit reports whether the version was checked and is not fit.
func (v Verdict) NotFit() bool { return v.State == check.NotFit }

// String is the verdict as a sentence, with the first fault.
func (v Verdict) String() string {
	switch {
	case v.Fit():
		return words.Say("verdict.fit")
	case v.NotFit() && len(v.First) > 0:
		return words.Say("verdict.not_fit", "n", v.Faults, "first", v.First[0])
	case v.NotFit():
		return words.Say("verdict.short", "n", v.Faults)
	}
	return words.Say("verdict.unchecked")
}

// told is the verdict on what is served, for a document.
func (p *site) told() Verdict {
	if v := p.verdict.Load(); v != nil {
		return *v
	}
	return Verdict{State: Unchecked, First: []string{}}
}

// verdicts tells the verdict on each pack that is served and on which version,
// by its id.
func (s *Server) verdicts() map[string]any {
	type entry struct {
		Version string `json:"version"`
		Verdict
	}
	all := map[string]any{}
	for _, p := range s.racks.served() {
		all[p.id] = entry{p.tag, p.told()}
	}
	return all
}

// Check proves every version that is served, one after the other, until ctx
// ends; those that come later too. It goes gently: the disk is for the phones
// first. Without it every verdict stays Unchecked.
func (s *Server) Check(ctx context.Context) {
	changed := make(chan struct{}, 1)
	s.OnPack(func(PackState) {
		select {
		case changed <- struct{}{}:
		default: // all of them are looked at anyway
		}
	})
	for ctx.Err() == nil {
		if l, p := s.racks.unchecked(); p != nil {
			s.checkOne(ctx, l.path, p)
			continue
		}
		select {
		case <-ctx.Done():
		case <-changed:
		}
	}
}

// unchecked gives a pack to check: one whose file is still the one that is served.
func (r *racks) unchecked() (*slot, *site) {
	for _, l := range r.slots.Load().all {
		if p := l.now.Load(); p != nil && p.verdict.Load() == nil && p.standsAt(l.path) {
			return l, p
		}
	}
	return nil, nil
}

// standsAt reports whether the file at path is the one that is served.
func (p *site) standsAt(path string) bool {
	file, err := os.Stat(path)
	return err == nil && p.pack.IsFile(file)
}

// checkOne gives a version its verdict, unless its file was exchanged meanwhile:
// then there is another version to check.
func (s *Server) checkOne(ctx context.Context, path string, p *site) {
	r, err := check.Run(ctx, path, check.Options{Gently: true, Now: s.now})
	if ctx.Err() != nil || !p.standsAt(path) {
		return
	}
	p.verdict.Store(newVerdict(r, err, s.watch.troubles.hide))
	s.racks.looking.Lock()
	defer s.racks.looking.Unlock()
	s.racks.tell()
}
