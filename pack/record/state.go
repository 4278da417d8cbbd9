package record

import (
	"slices"
	"strings"

	"groundsheet/tiles/words"
)

// State is the use of a line by its record; "" where the record says nothing. No
// state means that nothing is in the ground: a line that is not in use is live
// until its owner proves that it is not, and a line recorded as removed is there
// until it is found to be gone.
type State string

// States with a meaning of their own.
const (
	InService    State = "in service"
	OutOfService State = "out of service"
	Abandoned    State = "abandoned"
	Proposed     State = "proposed"       // not built as far as the record tells
	NotRead      State = "not understood" // stated, in words that are not known here
)

// StateProperty and KindProperty hold what the import understood a feature's
// own words to mean, beside these words, for the map page.
const (
	StateProperty = "status_as_read"
	KindProperty  = "kind_as_read"
)

// stateWords are the words of records for each state, whole texts in lower case
// (common practice, no source). "Removed" is not among them: a line recorded as
// removed may have been cut and left.
var stateWords = map[State][]string{
	InService: {
		"in service", "in use", "active", "live", "operational", "operating", "energized",
	},
	OutOfService: {
		"out of service", "oos", "out of use", "not in use", "not in service", "inactive", "idle", "disused",
		"decommissioned", "deactivated", "de energized", "deenergized",
	},
	Abandoned: {
		"abandoned", "abandoned in place", "aip", "aband", "abd", "retired", "retired in place",
	},
	Proposed: {
		"proposed", "planned", "design", "in design", "designed", "future", "not built", "not yet built",
	},
	"": {
		"", "unknown", "not known", "not stated", "unk", "n/a", "none", "null",
	},
}

// stateOf understands the words of a record for a state. Only whole texts
// count: "to be abandoned" and "not abandoned" are not "abandoned".
func stateOf(status string) State {
	status = plainWords(status)
	for state, words := range stateWords {
		if slices.Contains(words, status) {
			return state
		}
	}
	return NotRead
}

// plainWords is a text in lower case, its words parted by single blanks.
func plainWords(s string) string {
	return strings.Join(strings.FieldsFunc(strings.ToLower(s), func(r rune) bool {
		return strings.ContainsRune(" \t\r\n-_.,;:()\u00a0", r)
	}), " ")
}

// StateOf is the state of a feature by the record's own words, and these. Where
// they are silent, a line in the color of proposed digging is proposed.
func (o Overlay) StateOf(properties map[string]any) (state State, status string) {
	status = Text(properties, "status")
	if state = stateOf(status); state == "" && status == "" && o.Kind.Code == "proposed" {
		state = Proposed
	}
	return state, status
}

// Text is a state in words for people, with the record's own words where they are
// not understood; "" for one that is not stated, or in service.
func (s State) Text(status string) string {
	switch s {
	case "", InService:
		return ""
	case OutOfService, Abandoned, Proposed:
		return string(s)
	}
	if status == "" {
		return words.Say("state.differs")
	}
	return words.Say("state.unread", "status", Quote(status))
}

// unreadStates reports each state that is not understood.
func unreadStates(o Overlay) (all []Finding) {
	unread := tally(o, func(p map[string]any) (string, bool) {
		state, status := o.StateOf(p)
		return status, state == NotRead
	})
	for _, c := range unread[:min(len(unread), mostUnread)] {
		say := words.Say("state.unread_count", "n", c.n, "status", Quote(c.text))
		all = append(all, Finding{"state", Warning, o.File, 0, say})
	}
	if more := len(unread) - mostUnread; more > 0 {
		all = append(all, Finding{"state", Warning, o.File, 0, words.Say("state.unread_more", "n", more)})
	}
	return all
}
