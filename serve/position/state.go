package position

import "time"

// Phase is how things stand with a receiver.
type Phase string

// The phases of a feed.
const (
	PhaseOpening Phase = "opening" // not tried yet
	PhaseAway    Phase = "away"    // cannot be reached, or was lost; it is tried again
	PhaseSilent  Phase = "silent"  // reached, but says nothing that can be understood
	PhaseNoFix    Phase = "no-fix"  // says that it has no position
	PhaseFix   Phase = "fix"     // says where it is
	PhaseEnded   Phase = "ended"   // a recording that is over
)

// State is what is known of a receiver at one moment.
type State struct {
	Source   string // what phones are told of where it comes from; see Address.Label
	Frame    string // of corrected positions, as stated; "" when not; see Address.Frame
	Recorded bool   // plays a recording
	Phase    Phase
	Problem  string    // in words for a person, when it is Away or Silent
	Fix      *Fix      // the latest position, also when Phase is not Found any more; nil before the first
	Reported    time.Time // when it last said where it is, or that it does not know; zero before the first
	Counts   Counts    // since the receiver was reached
}

// Live says whether the state holds a position that may be shown as where the
// receiver is: the receiver has one at present, and it came within the last 5 s.
func (s State) Live(now time.Time) bool {
	return s.Phase == PhaseFix && s.Fix != nil && s.Fix.Live && s.Fix.Age(now) <= quietAfter
}
