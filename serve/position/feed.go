package position

import (
	"context"
	"errors"
	"fmt"
	"sync"
	"time"

	"groundsheet/tiles/words"
)

// How often a quiet receiver is looked after. Its burst of sentences is over
// when nothing comes for so long; a stop is seen at least as soon.
const patience = 200 * time.Millisecond

// quietAfter is when a receiver that was understood counts as silent.
const quietAfter = 5 * time.Second

// Feed keeps hold of one receiver. Make it with [NewFeed] and let it [Feed.Run].
type Feed struct {
	address Address
	o       Options

	mu       sync.Mutex
	state    State
	watchers map[chan State]struct{}
}

// NewFeed makes a feed that is not running yet.
func NewFeed(a Address, o Options) *Feed {
	o.Recorded = a.IsRecording()
	return &Feed{
		address: a, o: o, watchers: map[chan State]struct{}{},
		state: State{Source: a.Label(), Frame: a.Frame(), Recorded: a.IsRecording(), Phase: PhaseOpening},
	}
}

// State is the present state.
func (f *Feed) State() State {
	f.mu.Lock()
	defer f.mu.Unlock()
	return f.state
}

// Subscribe gives the present state and then each new one. A watcher that is slow
// gets the latest alone, and holds nobody up. stop ends the watching.
func (f *Feed) Subscribe() (states <-chan State, stop func()) {
	c := make(chan State, 1)
	f.mu.Lock()
	defer f.mu.Unlock()
	c <- f.state
	f.watchers[c] = struct{}{}
	return c, func() {
		f.mu.Lock()
		defer f.mu.Unlock()
		delete(f.watchers, c)
	}
}

// change makes a new state and tells it.
func (f *Feed) change(how func(*State)) {
	f.mu.Lock()
	defer f.mu.Unlock()
	how(&f.state)
	for c := range f.watchers {
		select {
		case <-c: // an older one that was not fetched
		default:
		}
		c <- f.state // only this function sends, so there is room
	}
}

// Run reads the receiver until ctx ends, and goes back to it whenever it is
// lost. A recording is played once, or over and over where its address says so;
// after its end Run waits for ctx. At the end the port, connection or file is
// closed.
func (f *Feed) Run(ctx context.Context) {
	wait := f.o.retry()
	for ctx.Err() == nil {
		understood, err := f.visit(ctx)
		switch {
		case ctx.Err() != nil:
			return
		case errors.Is(err, errEnded) && f.address.loop && understood:
			pause(ctx, betweenRounds)
			continue
		case errors.Is(err, errEnded):
			f.change(func(s *State) { s.Phase, s.Problem = PhaseEnded, err.Error() })
			<-ctx.Done()
			return
		}
		f.change(func(s *State) { s.Phase, s.Problem = PhaseAway, err.Error() })
		if understood {
			wait = f.o.retry()
		}
		pause(ctx, wait)
		wait = min(2*wait, 4*f.o.retry())
	}
}

// betweenRounds is waited for before a recording is played again.
const betweenRounds = time.Second

func pause(ctx context.Context, d time.Duration) {
	select {
	case <-ctx.Done():
	case <-time.After(d):
	}
}

// visit opens the receiver and reads it until it is lost. understood says
// whether it said anything of use.
func (f *Feed) visit(ctx context.Context) (understood bool, err error) {
	in, err := f.address.open(ctx)
	if err != nil {
		return false, err
	}
	opened := f.o.now()
	v := holding{feed: f, decoder: NewDecoder(f.o), opened: opened, byteAt: opened}
	defer func() {
		if closing := in.Close(); err == nil {
			err = closing
		}
	}()
	v.quiet(opened)
	buffer := make([]byte, 4096)
	for ctx.Err() == nil {
		n, err := in.read(buffer, patience)
		now := f.o.now()
		if n > 0 {
			v.take(buffer[:n], now)
		} else {
			v.quiet(now)
		}
		if err != nil {
			if fix, ok := v.decoder.Pending(); ok {
				v.tell(fix)
			}
			return v.decoder.counts.Read > 0, err
		}
		if since(v.byteAt, now) > f.o.silence() && f.address.way != "udp" && f.address.way != "file" {
			return v.decoder.counts.Read > 0, fmt.Errorf("nothing came for %s", f.o.silence())
		}
	}
	return v.decoder.counts.Read > 0, ctx.Err()
}

// holding is one time of having a receiver.
type holding struct {
	feed    *Feed
	decoder *Decoder
	opened  time.Time
	byteAt  time.Time // when the latest byte came
	heard   time.Time // when an epoch was told last; zero before the first
}

func (v *holding) take(p []byte, now time.Time) {
	v.byteAt = now
	for _, fix := range v.decoder.Write(p, now) {
		v.tell(fix)
	}
	if since(v.heard, now) > quietAfter { // bytes come, but nothing of use
		v.quiet(now)
	}
}

func (v *holding) tell(fix Fix) {
	v.heard = v.feed.o.now()
	v.feed.change(func(s *State) {
		s.Reported, s.Counts, s.Problem = v.heard, v.decoder.Counts(), ""
		s.Phase = PhaseNoFix
		if fix.Kind != NoFix {
			s.Phase, s.Fix = PhaseFix, &fix
		}
	})
}

// quiet is called whenever no byte came for a moment.
func (v *holding) quiet(now time.Time) {
	if fix, ok := v.decoder.Pending(); ok {
		v.tell(fix)
		return
	}
	if !v.heard.IsZero() && since(v.heard, now) < quietAfter {
		return
	}
	counts, why := v.decoder.Counts(), words.Say("receiver.waiting")
	if since(v.opened, now) >= quietAfter {
		why = silence(counts, since(v.byteAt, now) < quietAfter)
	}
	f := v.feed
	if s := f.State(); s.Phase != PhaseSilent || s.Problem != why {
		f.change(func(s *State) { s.Phase, s.Problem, s.Counts = PhaseSilent, why, counts })
	}
}

// silence says in words what comes instead of positions.
func silence(c Counts, talks bool) string {
	switch {
	case c.Read > 0 && talks:
		return words.Say("receiver.no_positions")
	case c.Read > 0:
		return words.Say("receiver.stopped")
	case c.Rejected > 0:
		return words.Say("receiver.unread", "why", c.Rejection)
	case c.OtherBytes > 0:
		return words.Say("receiver.no_nmea")
	}
	return words.Say("receiver.nothing")
}
