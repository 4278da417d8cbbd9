// Package readings keeps the latest reading of the instrument that speaks to this
// computer.
package readings

import (
	"bytes"
	"cmp"
	"context"
	"errors"
	"sync"
	"time"

	"groundsheet/pack/record/instrument"
	"groundsheet/serve/device"
	"groundsheet/tiles/words"
)

// Options of a [Feed]. The zero value is fine.
type Options struct {
	Now     func() time.Time // nil = time.Now
	Retry   time.Duration    // before a lost instrument is tried again, doubled up to 4 times as long; 0 = 1 s
	Changed func(State)      // called for each new state; it must not wait
}

// State is the state of an instrument at one moment.
type State struct {
	Name    string   // as the job states it
	Source  string   // see [device.Address.Label]
	Open    bool     // it is connected
	Trouble string   // in words for a person; "" = none
	Reading *Reading // the latest; nil before the first
	Refused int64    // lines that were not understood since it was last reached
}

// Reading is a reading and when it came.
type Reading struct {
	instrument.Reading
	At time.Time // by this computer's clock
}

// Feed reads one instrument. Make it with [NewFeed], start it with [Feed.Run].
type Feed struct {
	address device.Address
	format  instrument.Format
	o       Options

	mu    sync.Mutex
	state State
}

// NewFeed returns a feed that is not running yet.
func NewFeed(a device.Address, f instrument.Format, o Options) *Feed {
	if o.Now == nil {
		o.Now = time.Now
	}
	if o.Changed == nil {
		o.Changed = func(State) {}
	}
	o.Retry = cmp.Or(o.Retry, time.Second)
	return &Feed{address: a, format: f, o: o, state: State{
		Name: f.Name, Source: a.Label(), Trouble: words.Say("instrument.opening"),
	}}
}

// State returns the current state.
func (f *Feed) State() State {
	f.mu.Lock()
	defer f.mu.Unlock()
	return f.state
}

// quiet is how long an instrument may say nothing before the connection is made anew.
// Many speak only when their user takes a reading.
const quiet = 12 * time.Hour

// Run reads the instrument until ctx ends, and connects again whenever it is lost.
func (f *Feed) Run(ctx context.Context) {
	link := device.Link{Address: f.address, Now: f.o.Now, Retry: f.o.Retry, Silence: quiet}
	link.Run(ctx, func(time.Time) device.Session {
		f.update(func(s *State) { s.Open, s.Refused, s.Trouble = true, 0, "" })
		return &session{feed: f}
	}, func(err error) {
		trouble := err.Error()
		if errors.Is(err, device.ErrEnded) {
			trouble = words.Say("instrument.over")
		}
		f.update(func(s *State) { s.Open, s.Trouble = false, trouble })
	})
}

func (f *Feed) update(change func(*State)) {
	f.mu.Lock()
	change(&f.state)
	s := f.state
	f.mu.Unlock()
	f.o.Changed(s)
}

// session is one connection to the instrument.
type session struct {
	feed *Feed
	rest []byte // a line that has not ended
	skip bool   // the rest of a line that is too long
	read int64
}

// longest is how much of a line is kept; longer ones are refused whole.
const longest = 4096

// Receive takes bytes of the instrument.
func (s *session) Receive(p []byte, now time.Time) {
	for len(p) > 0 {
		line, after, ended := bytes.Cut(p, []byte("\n"))
		p = after
		if len(s.rest)+len(line) > longest {
			s.skip = true
		}
		if !s.skip {
			s.rest = append(s.rest, line...)
		}
		if !ended {
			return
		}
		whole, skipped := string(bytes.TrimRight(s.rest, "\r")), s.skip
		s.rest, s.skip = s.rest[:0], false
		if skipped {
			s.refuse(words.Say("instrument.not_lines"))
			continue
		}
		s.line(whole, now)
	}
}

func (s *session) line(line string, now time.Time) {
	r, ok, err := s.feed.format.Read(line)
	switch {
	case err != nil:
		s.refuse(words.Say("instrument.refused", "why", err))
	case ok:
		s.read++
		s.feed.update(func(st *State) { st.Reading, st.Trouble = &Reading{r, now}, "" })
	}
}

func (s *session) refuse(why string) {
	s.feed.update(func(st *State) { st.Refused++; st.Trouble = why })
}

// Idle is called when no byte came for a moment: an instrument may say nothing for hours.
func (s *session) Idle(time.Time) {}

// End reports whether anything was understood.
func (s *session) End() (understood bool) { return s.read > 0 }
