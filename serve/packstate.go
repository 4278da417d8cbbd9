package serve

import (
	"cmp"
	"slices"
	"time"
)

// PackState is what a server tells of one of its packs.
type PackState struct {
	ID      string    // in addresses, the same for every version of the file; "" = no pack was opened there yet
	Name    string    // of the pack that is served
	Path    string    // of the file, as it was named
	Version string    // changes with the file, as in ?v= of a tile's address; "" = nothing is served
	Since   time.Time // when this version was opened
	Trouble string    // what is wrong, in plain words; "" = nothing
	Verdict *Verdict  // on this version; nil = it was not checked yet
}

// Packs tells what is served, as of the latest look, in the order of the list of
// packs.
func (s *Server) Packs() []PackState { return slices.Clone(*s.racks.states.Load()) }

// OnPack has f called with the new state of each pack that changes: another
// version, verdict, trouble, or none any more. It is never called twice at once
// and must return soon.
func (s *Server) OnPack(f func(PackState)) {
	s.racks.mu.Lock()
	defer s.racks.mu.Unlock()
	s.racks.told = append(s.racks.told, f)
}

// tell notes the state of all packs and hands on what is new. The caller holds
// looking, once the server is open.
func (r *racks) tell() {
	var all, news []PackState
	before := *r.states.Load()
	for i, l := range r.slots.Load().all {
		s := l.state()
		if i >= len(before) || before[i] != s {
			news = append(news, s)
		}
		all = append(all, s)
	}
	r.states.Store(&all)
	r.mu.Lock()
	told := slices.Clone(r.told)
	r.mu.Unlock()
	for _, s := range news {
		for _, f := range told {
			f(s)
		}
	}
}

func (l *slot) state() PackState {
	s := PackState{ID: l.id, Path: l.path, Trouble: l.trouble}
	if p := l.now.Load(); p != nil {
		s.Name, s.Version, s.Since = p.pack.Info.Name, p.tag, p.since
		s.Trouble, s.Verdict = cmp.Or(s.Trouble, p.ill()), p.verdict.Load()
	}
	return s
}
