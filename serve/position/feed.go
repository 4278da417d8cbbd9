package position

import (
	"bytes"
	"context"
	"errors"
	"strings"
	"sync"
	"time"

	"groundsheet/serve/device"
	"groundsheet/tiles/words"
)

// silentAfter is when a receiver that was understood counts as silent.
const silentAfter = 5 * time.Second

// Phase is the condition of a feed.
type Phase string

// The phases of a feed.
const (
	PhaseOpening Phase = "opening" // not tried yet
	PhaseAway    Phase = "away"    // unreachable or lost; the feed tries again
	PhaseSilent  Phase = "silent"  // reached, but sends nothing that can be understood
	PhaseNoFix   Phase = "no-fix"  // says that it has no position
	PhaseFix     Phase = "fix"     // says where it is
	PhaseEnded   Phase = "ended"   // a recording that is over
)

// FeedState is the state of a feed at one moment.
type FeedState struct {
	Source   string // see [device.Address.Label]
	Frame    string // see [device.Address.Frame]
	Recorded bool   // plays a recording
	Phase    Phase
	Problem  string    // in words for a person, in PhaseAway and PhaseSilent
	Fix      *Fix      // the latest position, also after PhaseFix; nil before the first
	Reported time.Time // latest report of a position or of none; zero before the first
	Counts   Counts    // since the receiver was last reached
}

// Live reports whether the state holds a position that may be shown as where the
// receiver is: it has one at present, and it arrived within the last 5 s.
func (s FeedState) Live(now time.Time) bool {
	return s.Phase == PhaseFix && s.Fix != nil && s.Fix.Live && s.Fix.Age(now) <= silentAfter
}

// Feed reads one receiver and reconnects to it. Make it with [NewFeed], start it with [Feed.Run].
type Feed struct {
	address device.Address
	o       Options

	mu          sync.Mutex
	state       FeedState
	subscribers map[chan FeedState]struct{}
}

// NewFeed returns a feed that is not running yet.
func NewFeed(a device.Address, o Options) *Feed {
	o.Recorded = a.IsRecording()
	return &Feed{
		address: a, o: o.withDefaults(), subscribers: map[chan FeedState]struct{}{},
		state: FeedState{Source: a.Label(), Frame: a.Frame(), Recorded: o.Recorded, Phase: PhaseOpening},
	}
}

// State returns the current state.
func (f *Feed) State() FeedState {
	f.mu.Lock()
	defer f.mu.Unlock()
	return f.state
}

// Subscribe delivers the current state and then each new one. A slow subscriber
// gets the latest only, and delays nobody. stop ends the subscription.
func (f *Feed) Subscribe() (states <-chan FeedState, stop func()) {
	c := make(chan FeedState, 1)
	f.mu.Lock()
	defer f.mu.Unlock()
	c <- f.state
	f.subscribers[c] = struct{}{}
	return c, func() {
		f.mu.Lock()
		defer f.mu.Unlock()
		delete(f.subscribers, c)
	}
}

// update changes the state and publishes it.
func (f *Feed) update(change func(*FeedState)) {
	f.mu.Lock()
	defer f.mu.Unlock()
	change(&f.state)
	for c := range f.subscribers {
		select {
		case <-c: // an older state that was not received
		default:
		}
		c <- f.state // has room: nobody else sends
	}
}

// Run reads the receiver until ctx ends, and reconnects whenever it is lost. It plays a
// recording once, or in a loop if the address says so, and then waits for ctx. In the
// end it closes the port, connection or file.
func (f *Feed) Run(ctx context.Context) {
	link := device.Link{Address: f.address, Now: f.o.Now, Retry: f.o.Retry, Silence: f.o.Silence, Pace: timeOfDay}
	link.Run(ctx, func(opened time.Time) device.Session {
		return &connection{feed: f, decoder: NewDecoder(f.o), opened: opened, byteAt: opened}
	}, func(err error) {
		phase := PhaseAway
		if errors.Is(err, device.ErrEnded) {
			phase = PhaseEnded
		}
		f.update(func(s *FeedState) { s.Phase, s.Problem = phase, err.Error() })
	})
}

// timeOfDay returns the time of day in a line, if it is a sentence with one.
func timeOfDay(line []byte) (time.Duration, bool) {
	start := max(0, bytes.LastIndexByte(line, '$'))
	s, err := parseSentence(strings.TrimSpace(string(line[start:])))
	if err != nil || s.kind != "GGA" && s.kind != "RMC" && s.kind != "GST" || len(s.fields) == 0 {
		return 0, false
	}
	f := fieldParser{sentence: s}
	c := f.clock(1) // the zero clock if it is unreadable
	return c.sinceMidnight, c.known
}

// connection is one connection to the receiver.
type connection struct {
	feed     *Feed
	decoder  *Decoder
	opened   time.Time
	byteAt   time.Time // arrival of the latest byte
	reported time.Time // the latest epoch; zero before the first
}

// Receive takes bytes of the receiver.
func (c *connection) Receive(p []byte, now time.Time) {
	c.byteAt = now
	for _, fix := range c.decoder.Write(p, now) {
		c.report(fix)
	}
	if device.Since(c.reported, now) > silentAfter { // bytes, but nothing useful
		c.Idle(now)
	}
}

// End reports a fix that waits for its end.
func (c *connection) End() (understood bool) {
	if fix, ok := c.decoder.Pending(); ok {
		c.report(fix)
	}
	return c.decoder.counts.Read > 0
}

func (c *connection) report(fix Fix) {
	c.reported = c.feed.o.Now()
	c.feed.update(func(s *FeedState) {
		s.Reported, s.Counts, s.Problem = c.reported, c.decoder.Counts(), ""
		s.Phase = PhaseNoFix
		if fix.Kind != NoFix {
			s.Phase, s.Fix = PhaseFix, &fix
		}
	})
}

// Idle is called when no byte came for a moment.
func (c *connection) Idle(now time.Time) {
	if fix, ok := c.decoder.Pending(); ok {
		c.report(fix)
		return
	}
	if !c.reported.IsZero() && device.Since(c.reported, now) < silentAfter {
		return
	}
	counts, problem := c.decoder.Counts(), words.Say("receiver.waiting")
	if device.Since(c.opened, now) >= silentAfter {
		problem = silence(counts, device.Since(c.byteAt, now) < silentAfter)
	}
	if s := c.feed.State(); s.Phase != PhaseSilent || s.Problem != problem {
		c.feed.update(func(s *FeedState) { s.Phase, s.Problem, s.Counts = PhaseSilent, problem, counts })
	}
}

// silence says in words what arrives instead of positions.
func silence(c Counts, sending bool) string {
	switch {
	case c.Read > 0 && sending:
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
