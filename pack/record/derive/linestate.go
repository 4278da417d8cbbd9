package derive

import (
	"fmt"
	"slices"

	"groundsheet/pack/record"
	"groundsheet/tiles/geojson"
	"groundsheet/tiles/words"
)

// StateText is the state of a line as it stands behind its name; "" where it
// is not stated, or the line is in service.
func (l Line) StateText() string { return l.State.Text(l.Status) }

// readState is the state of a line through readings: what all of them state, or
// not understood, without words, where they differ.
func (l *Line) readState(readings []geojson.Feature, o record.Overlay) {
	l.State, l.Status = o.StateOf(readings[0].Properties)
	for _, f := range readings[1:] {
		if s, _ := o.StateOf(f.Properties); s != l.State {
			l.State, l.Status = record.NotRead, ""
			return
		}
	}
}

// StatesText counts the lines by their states in one sentence; "" where each is
// in service or states nothing.
func StatesText(lines []Line) string {
	counts := map[record.State]int{}
	for _, l := range lines {
		counts[l.State]++
	}
	var parts []string
	for _, s := range []record.State{record.Abandoned, record.OutOfService, record.Proposed, record.InService, ""} {
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
	if !slices.ContainsFunc(lines, func(l Line) bool { return l.StateText() != "" }) {
		return ""
	}
	return words.Say("state.counted", "all", len(lines), "parts", words.List(parts))
}

func countedAs(s record.State) string {
	if s == "" {
		return words.Say("state.counted_not_stated")
	}
	return string(s)
}

// addStates takes the states of the two lines, and says behind the relation
// that a proposed line is not in the ground as far as the record tells.
func (c *Crossing) addStates(a, b Line) {
	c.States = [2]record.State{a.State, b.State}
	switch {
	case a.State == record.Proposed && b.State == record.Proposed:
		c.Relation += "; " + words.Say("crossing.both_not_built")
	case a.State == record.Proposed:
		c.Relation += "; " + words.Say("crossing.not_built", "line", a.asProposed())
	case b.State == record.Proposed:
		c.Relation += "; " + words.Say("crossing.not_built", "line", b.asProposed())
	}
}

// asProposed names a proposed line.
func (l Line) asProposed() string {
	if l.Utility == "proposed" {
		return words.Say("crossing.proposed")
	}
	return words.Say("crossing.proposed_of", "line", l.Utility+" "+record.Quote(l.nameOrID()))
}
