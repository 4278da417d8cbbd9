package handover

import (
	"slices"
	"strings"

	"groundsheet/pack/collect"
	"groundsheet/pack/fieldbook"
	"groundsheet/serve/position"
	"groundsheet/tiles/words"
)

// placeDoubt is something that a position does not tell of where a find lies.
type placeDoubt struct {
	kind    string // the same for all that are doubtful for the same reason
	text    string
	unknown bool // how far off the find is, is not known
}

// placeDoubts tell what a position leaves open. Whether an accuracy follows from it is
// decided where marks are read as records ([fieldbook.Overlays]).
func (f Find) placeDoubts() (all []placeDoubt) {
	if f.text("position_from") != "receiver" {
		return nil
	}
	unknown := f.Values["accuracy_m"] == nil
	add := func(kind, text string) {
		if unknown {
			off := words.Say("handover.off_unknown")
			kind, text = kind+": "+off, text+": "+off
		}
		all = append(all, placeDoubt{kind, text, unknown})
	}
	age := f.number("position_age_s")
	switch {
	case f.text("position_recorded") == words.Say("handover.yes_no", "n", 1):
		unknown = true // a recording tells nothing of now
		add(words.Say("handover.place_recorded"), words.Say("handover.place_recorded"))
	case age != nil && *age > fieldbook.FreshFor:
		add(words.Say("handover.place_old", "s", fieldbook.FreshFor), words.Say("handover.place_age", "s", plainNumber(*age)))
	case unknown && f.notThere:
		add(words.Say("handover.place_kind"), words.Say("handover.place_kind"))
	}
	unknown = false
	if f.frameless() {
		add(words.Say("handover.place_frame"), words.Say("handover.place_frame"))
	}
	return all
}

// frameless reports whether a position rests on corrections whose frame is not stated.
func (f Find) frameless() bool {
	return f.text("position_from") == "receiver" && position.FixKind(f.text("fix")).Corrected() && f.text("frame") == ""
}

// limit says in the find itself what its position leaves open.
func (f Find) limit() {
	all := []string{}
	if own := f.text("limits"); own != "" {
		all = append(all, own)
	}
	for _, d := range f.placeDoubts() {
		all = append(all, strings.ToUpper(d.text[:1])+d.text[1:]+".")
	}
	f.set("limits", strings.Join(all, " "))
}

// limitJoined says in a line what the positions of its readings leave open.
func (f Find) limitJoined(readings []Find) {
	text := f.text("limits")
	for _, d := range countDoubts(readings) {
		text += " " + words.Say("handover.joined_doubt", "doubt", d)
	}
	f.set("limits", text)
}

// countDoubts counts what the positions of finds leave open.
func countDoubts(finds []Find) (all []string) {
	n := map[string]int{}
	for _, f := range finds {
		for _, d := range f.placeDoubts() {
			n[d.kind]++
		}
	}
	for _, kind := range sortedKeys(n) {
		all = append(all, words.Say("handover.doubt_count", "n", n[kind], "doubt", kind))
	}
	return all
}

// mostDoubts of single finds are listed (the project's own choice).
const mostDoubts = 200

// doubts are what has to be looked at before a find is relied on: of all positions in
// counts (each row of the table has its own), and what collecting the books tells of single marks.
func (m *material) doubts(o Options) []string {
	all := countDoubts(m.marked())
	if slices.ContainsFunc(m.marked(), func(f Find) bool { return f.frameless() }) {
		all = append(all, words.Say("handover.frame_about"))
	}
	single := collect.Look(m.keptMarks(), o.Units)
	if more := len(single) - mostDoubts; more > 0 {
		single = append(single[:mostDoubts:mostDoubts], words.Say("handover.doubts_more", "n", more))
	}
	return append(all, single...)
}

// keptMarks are the marks of which a part at least goes along.
func (m *material) keptMarks() []fieldbook.Mark {
	kept := map[string]bool{}
	for _, f := range m.found {
		id, _, _ := strings.Cut(f.ID, "/")
		kept[id] = true
	}
	return slices.DeleteFunc(slices.Clone(m.marks), func(k fieldbook.Mark) bool { return !kept[k.ID] })
}

// marked are the finds that are marks.
func (m *material) marked() []Find {
	return slices.DeleteFunc(slices.Clone(m.found), func(f Find) bool { return f.Source != FieldBook })
}
