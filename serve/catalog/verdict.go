package catalog

import (
	"context"
	"os"

	"groundsheet/pack/check"
	"groundsheet/tiles/words"
)

// Unchecked is the state of a version that was not checked yet; the others are
// [check.Fit] and [check.NotFit].
const Unchecked = "unchecked"

// maxFaults is how many faults a verdict spells out.
const maxFaults = 5

// Verdict is the result of checking one version of a pack. It is about the pack,
// never about the ground.
type Verdict struct {
	State  string   `json:"state"`  // Unchecked, [check.Fit] or [check.NotFit]
	Faults int      `json:"faults"` // their number
	First  []string `json:"first"`  // the first of them, a sentence each
}

// newVerdict summarizes a report. A pack that could not be checked is not fit.
func newVerdict(r check.Report, err error, redact func(string) string) *Verdict {
	if err != nil {
		return &Verdict{check.NotFit, 1, []string{words.Say("verdict.unseen", "why", redact(reason(err)))}}
	}
	v := &Verdict{State: r.Verdict, Faults: r.Faults, First: []string{}}
	for _, f := range r.Findings {
		if f.Severity == check.Fault && len(v.First) < maxFaults {
			v.First = append(v.First, redact(f.Detail))
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

// More is the number of faults beyond the first ones, when those are spelled out.
func (v Verdict) More() int {
	if len(v.First) == 0 {
		return 0
	}
	return v.Faults - len(v.First)
}

// Verdict is the verdict on this version.
func (p *Pack[A]) Verdict() Verdict { return State{Verdict: p.verdict.Load()}.Checked() }

// Checked is the verdict on the version that is served, also when there is none yet.
func (s State) Checked() Verdict {
	if s.Verdict == nil {
		return Verdict{State: Unchecked, First: []string{}}
	}
	return *s.Verdict
}

// Check checks every version that is served, one after the other, until ctx ends;
// also those that come later. It works gently: the disk is for the phones first.
// Without it every verdict stays Unchecked.
func (c *Catalog[A]) Check(ctx context.Context) {
	changed := make(chan struct{}, 1)
	c.OnChange(func(State) {
		select {
		case changed <- struct{}{}:
		default: // the next pass covers all
		}
	})
	for ctx.Err() == nil {
		if m, p := c.unchecked(); p != nil {
			c.check(ctx, m.path, p)
			continue
		}
		select {
		case <-ctx.Done():
		case <-changed:
		}
	}
}

// unchecked gives a pack to check: one whose file is still the one that is served.
func (c *Catalog[A]) unchecked() (*mount[A], *Pack[A]) {
	for _, m := range *c.mounts.Load() {
		if p := m.current.Load(); p != nil && p.verdict.Load() == nil && p.isAt(m.path) {
			return m, p
		}
	}
	return nil, nil
}

// isAt reports whether the file at path is the one that is served.
func (p *Pack[A]) isAt(path string) bool {
	file, err := os.Stat(path)
	return err == nil && p.File.IsFile(file)
}

// check gives a version its verdict, unless its file was replaced meanwhile: then
// there is another version to check.
func (c *Catalog[A]) check(ctx context.Context, path string, p *Pack[A]) {
	r, err := check.Run(ctx, path, check.Options{Gently: true, Now: c.o.Now})
	if ctx.Err() != nil || !p.isAt(path) {
		return
	}
	p.verdict.Store(newVerdict(r, err, c.o.Redact))
	c.scanning.Lock()
	defer c.scanning.Unlock()
	c.notify()
}
