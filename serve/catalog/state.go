package catalog

import (
	"cmp"
	"context"
	"os"
	"slices"
	"sync"
	"time"

	"groundsheet/pack/check"
	"groundsheet/tiles"
	"groundsheet/tiles/words"
)

// PackState describes a pack at the latest scan.
type PackState struct {
	ID      string    // in addresses, the same for every version of the file; "" = no pack was opened there yet
	Name    string    // of the pack that is served
	Path    string    // of the file, as it was named
	Version string    // changes with the file, as in ?v= of a tile's address; "" = nothing is served
	Since   time.Time // when this version was opened
	Units   string    // of the job; "" = nothing is served
	Trouble string    // what is wrong, in plain words; "" = nothing
	Verdict *Verdict  // on this version; nil = not checked yet
}

// States describes all packs as of the latest scan, in the order in which they were
// added.
func (c *Catalog[A]) States() []PackState { return slices.Clone(*c.states.Load()) }

// OnChange has f called with the new state of each pack that changes. Calls never
// overlap; f must return soon.
func (c *Catalog[A]) OnChange(f func(PackState)) {
	c.mu.Lock()
	defer c.mu.Unlock()
	c.listeners = append(c.listeners, f)
}

// notify stores all states and passes on those that changed. The caller holds
// scanning, once the catalog is in use.
func (c *Catalog[A]) notify() {
	var all, changed []PackState
	before := *c.states.Load()
	for i, m := range *c.mounts.Load() {
		s := m.state()
		if i >= len(before) || before[i] != s {
			changed = append(changed, s)
		}
		all = append(all, s)
	}
	c.states.Store(&all)
	c.mu.Lock()
	listeners := slices.Clone(c.listeners)
	c.mu.Unlock()
	for _, s := range changed {
		for _, f := range listeners {
			f(s)
		}
	}
}

func (m *mount[A]) state() PackState {
	s := PackState{ID: m.ID(), Path: m.path, Trouble: m.trouble}
	if p := m.current.Load(); p != nil {
		s.Name, s.Units, s.Version, s.Since = p.File.Info.Name, p.File.Info.About.Units, p.Version, p.Opened
		s.Trouble, s.Verdict = cmp.Or(s.Trouble, p.Attached.Trouble()), p.verdict.Load()
	}
	return s
}

// probe is the latest answer to whether all packs can be read.
type probe struct {
	mu    sync.Mutex
	at    time.Time
	lines []string
}

const (
	probeEvery = time.Second     // calls in between get the latest answer
	probeTime  = 2 * time.Second // for reading one tile
)

// Unreadable gives a line for each pack that cannot be read: one that was served and
// is not any more, unless it was removed from its folder, and one with unreadable
// tiles.
func (c *Catalog[A]) Unreadable() []string {
	c.probe.mu.Lock()
	defer c.probe.mu.Unlock()
	now := c.o.Now()
	if age := now.Sub(c.probe.at); age >= 0 && age < probeEvery {
		return slices.Clone(c.probe.lines)
	}
	c.probe.lines = nil
	for _, m := range *c.mounts.Load() {
		if trouble := m.read(); trouble != "" && m.ID() != "" {
			c.probe.lines = append(c.probe.lines, m.ID()+": "+trouble)
		}
	}
	c.probe.at = now
	return slices.Clone(c.probe.lines)
}

// read reads a tile in the middle of a pack and says what is wrong; "" = nothing.
func (m *mount[A]) read() string {
	p := m.acquire()
	if p == nil {
		if _, err := os.Stat(m.path); m.folder != "" && err != nil {
			return ""
		}
		return words.Say("laptop.not_served")
	}
	defer p.Release()
	if trouble := p.Attached.Trouble(); trouble != "" {
		return trouble
	}
	ctx, cancel := context.WithTimeout(context.Background(), probeTime)
	defer cancel()
	lon, lat := p.File.Info.Bounds.Center()
	if _, _, err := p.File.Nearest(ctx, tiles.At(lon, lat, p.File.Info.Zooms.Max)); err != nil {
		return words.Say("laptop.unreadable")
	}
	return ""
}

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
func (p *Pack[A]) Verdict() Verdict { return PackState{Verdict: p.verdict.Load()}.Checked() }

// Checked is the verdict on the version that is served, also when there is none yet.
func (s PackState) Checked() Verdict {
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
	c.OnChange(func(PackState) {
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
