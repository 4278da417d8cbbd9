package catalog

import (
	"cmp"
	"context"
	"os"
	"slices"
	"sync"
	"time"

	"groundsheet/tiles"
	"groundsheet/tiles/words"
)

// State describes a pack at the latest scan.
type State struct {
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
func (c *Catalog[A]) States() []State { return slices.Clone(*c.states.Load()) }

// OnChange has f called with the new state of each pack that changes. Calls never
// overlap; f must return soon.
func (c *Catalog[A]) OnChange(f func(State)) {
	c.mu.Lock()
	defer c.mu.Unlock()
	c.listeners = append(c.listeners, f)
}

// notify stores all states and passes on those that changed. The caller holds
// scanning, once the catalog is in use.
func (c *Catalog[A]) notify() {
	var all, changed []State
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

func (m *mount[A]) state() State {
	s := State{ID: m.ID(), Path: m.path, Trouble: m.trouble}
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
