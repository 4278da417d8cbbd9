package position

import "time"

// Phase is how things stand with a receiver.
type Phase string

// The phases of a feed.
const (
	Opening Phase = "opening" // not tried yet
	Away    Phase = "away"    // cannot be reached, or was lost; it is tried again
	Silent  Phase = "silent"  // reached, but says nothing that can be understood
	Lost    Phase = "no-fix"  // says that it has no position
	Found   Phase = "fix"     // says where it is
	Ended   Phase = "ended"   // a recording that is over
)

// State is what is known of a receiver at one moment.
type State struct {
	Source   string // what phones are told of where it comes from; see Address.Label
	Frame    string // of corrected positions, as stated; "" when not; see Address.Frame
	Recorded bool   // plays a recording
	Phase    Phase
	Trouble  string    // in words for a person, when it is Away or Silent
	Fix      *Fix      // the latest position, also when Phase is not Found any more; nil before the first
	Heard    time.Time // when it last said where it is, or that it does not know; zero before the first
	Counts   Counts    // since the receiver was reached
}

// Live says whether the state holds a position that may be shown as where the
// receiver is: the receiver has one at present, and it came within the last 5 s.
func (s State) Live(now time.Time) bool {
	return s.Phase == Found && s.Fix != nil && s.Fix.Live && s.Fix.Age(now) <= quietAfter
}
