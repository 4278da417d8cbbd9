package position

import "time"

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

// State is the state of a feed at one moment.
type State struct {
	Source   string // see [Address.Label]
	Frame    string // see [Address.Frame]
	Recorded bool   // plays a recording
	Phase    Phase
	Problem  string    // in words for a person, in PhaseAway and PhaseSilent
	Fix      *Fix      // the latest position, also after PhaseFix; nil before the first
	Reported time.Time // latest report of a position or of none; zero before the first
	Counts   Counts    // since the receiver was last reached
}

// Live reports whether the state holds a position that may be shown as where the
// receiver is: it has one at present, and it arrived within the last 5 s.
func (s State) Live(now time.Time) bool {
	return s.Phase == PhaseFix && s.Fix != nil && s.Fix.Live && s.Fix.Age(now) <= silentAfter
}
