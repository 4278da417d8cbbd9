package record

import (
	"fmt"
	"slices"
	"strings"

	"groundsheet/tiles/geojson"
	"groundsheet/tiles/words"
)

// State is what a record says of a line's use; "" where it says nothing. No
// state means that nothing is in the ground: a line that is not in use is live
// until its owner proves that it is not, and one that the record calls removed
// is there until somebody has looked.
type State string

// States that are told apart.
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

// stateWords are the words of records for each state, whole texts in lower
// case (common practice, no source). "Removed" is not among them: what was
// taken out by the record may have been cut and left.
var stateWords = map[string]State{
	"in service": InService, "in use": InService, "active": InService, "live": InService, "operational": InService, "operating": InService, "energized": InService,

	"out of service": OutOfService, "oos": OutOfService, "out of use": OutOfService, "not in use": OutOfService, "not in service": OutOfService, "inactive": OutOfService,
	"idle": OutOfService, "disused": OutOfService, "decommissioned": OutOfService, "deactivated": OutOfService, "de energized": OutOfService, "deenergized": OutOfService,

	"abandoned": Abandoned, "abandoned in place": Abandoned, "aip": Abandoned, "aband": Abandoned, "abd": Abandoned, "retired": Abandoned, "retired in place": Abandoned,

	"proposed": Proposed, "planned": Proposed, "design": Proposed, "in design": Proposed, "designed": Proposed, "future": Proposed, "not built": Proposed, "not yet built": Proposed,

	"": "", "unknown": "", "not known": "", "not stated": "", "unk": "", "n/a": "", "none": "", "null": "",
}

// stateOf understands the words of a record for a state. Only whole texts
// count: "to be abandoned" and "not abandoned" are not "abandoned".
func stateOf(status string) State {
	state, known := stateWords[plainWords(status)]
	if !known {
		return NotRead
	}
	return state
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
	status = text(properties["status"])
	if state = stateOf(status); state == "" && status == "" && o.Kind.Code == "proposed" {
		state = Proposed
	}
	return state, status
}

// told is a state as text for people, with the record's own words where these
// are not understood; "" for one that is not stated, or in service.
func (s State) told(status string) string {
	switch s {
	case "", InService:
		return ""
	case OutOfService, Abandoned, Proposed:
		return string(s)
	}
	if status == "" {
		return words.Say("state.differs")
	}
	return words.Say("state.unread", "status", quoted(status))
}

// StateTold is the state of a line as it stands behind its name; "" where it
// is not stated, or the line is in service.
func (l Line) StateTold() string { return l.State.told(l.Status) }

// readState is the state of a line through readings: what all of them state, or
// not understood, without words, where they differ.
func (l *Line) readState(readings []geojson.Feature, o Overlay) {
	l.State, l.Status = o.StateOf(readings[0].Properties)
	for _, f := range readings[1:] {
		if s, _ := o.StateOf(f.Properties); s != l.State {
			l.State, l.Status = NotRead, ""
			return
		}
	}
}

// unreadStates tells of each state whose words are not understood.
func unreadStates(o Overlay) (all []Finding) {
	seen := map[string]int{}
	var order []string
	for _, f := range o.Features {
		state, status := o.StateOf(f.Properties)
		if state != NotRead {
			continue
		}
		if seen[status]++; seen[status] == 1 {
			order = append(order, status)
		}
	}
	for _, status := range order[:min(len(order), 10)] {
		all = append(all, Finding{Kind: "state", Severity: Warning, Where: o.File,
			Detail: words.Say("state.unread_count", "n", seen[status], "status", quoted(status))})
	}
	if more := len(order) - 10; more > 0 {
		all = append(all, Finding{Kind: "state", Severity: Warning, Where: o.File, Detail: words.Say("state.unread_more", "n", more)})
	}
	return all
}

// StatesTold counts the lines by their states in one sentence; "" where each is
// in service or states nothing.
func StatesTold(lines []Line) string {
	counts := map[State]int{}
	for _, l := range lines {
		counts[l.State]++
	}
	var parts []string
	for _, s := range []State{Abandoned, OutOfService, Proposed, InService, ""} {
		if n := counts[s]; n > 0 {
			parts = append(parts, fmt.Sprintf("%d %s", n, countedAs(s)))
		}
		delete(counts, s)
	}
	unread := 0
	for _, n := range counts { // a pack may be anybody's
		unread += n
	}
	if unread > 0 {
		parts = append(parts, words.Say("state.counted_unread", "n", unread))
	}
	if !slices.ContainsFunc(lines, func(l Line) bool { return l.StateTold() != "" }) {
		return ""
	}
	return words.Say("state.counted", "all", len(lines), "parts", words.List(parts))
}

func countedAs(s State) string {
	if s == "" {
		return words.Say("state.counted_not_stated")
	}
	return string(s)
}

// tellStates takes the states of the two lines, and says behind the relation
// that a proposed line is not in the ground as far as the record tells.
func (c *Crossing) tellStates(a, b Line) {
	c.States = [2]State{a.State, b.State}
	switch {
	case a.State == Proposed && b.State == Proposed:
		c.Relation += "; " + words.Say("crossing.both_not_built")
	case a.State == Proposed:
		c.Relation += "; " + words.Say("crossing.not_built", "line", a.asProposed())
	case b.State == Proposed:
		c.Relation += "; " + words.Say("crossing.not_built", "line", b.asProposed())
	}
}

// asProposed names a proposed line.
func (l Line) asProposed() string {
	if l.Utility == "proposed" {
		return words.Say("crossing.proposed")
	}
	return words.Say("crossing.proposed_of", "line", l.Utility+" "+quoted(l.nameOrID()))
}
