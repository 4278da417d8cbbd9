package brief

import (
	"cmp"
	"fmt"
	"slices"
	"strings"
	"time"

	"groundsheet/pack"
	"groundsheet/pack/overlay"
	"groundsheet/tiles/measure"
	"groundsheet/tiles/words"
)

// Section is a part of the brief in words, the same on paper and on the page.
type section struct {
	Title string
	Notes []string
	Head  []string
	Wide  []float64 // of the columns, parts of the whole
	Rows  [][]string
	Loud  bool // its notes are the ones not to miss
}

// mostRows keeps a brief from being a book.
const mostRows = 150

// cut leaves out what is more than mostRows, and says so.
func (s section) cut() section {
	if n := len(s.Rows) - mostRows; n > 0 {
		s.Rows = s.Rows[:mostRows]
		s.Notes = append(s.Notes, fmt.Sprintf("… and %d more, left out for length; the pack holds them all.", n))
	}
	return s
}

// identity is number and ticket in one line.
func (s site) identity(most int) string {
	text := "job number " + unstated(s.about.Number, most/2)
	if t := s.about.Ticket; t != nil {
		text += " · ticket " + unstated(t.Number, most/2) + ", last valid day " + unstated(t.ValidUntil, 12)
		if s.past() {
			text += " — PAST"
		}
	} else {
		text += " · no ticket stated"
	}
	if !s.fit {
		text += " · NOT FIT"
	}
	return text
}

func unstated(s string, most int) string {
	if s = tidy(s, most); s == "" {
		return "not stated"
	}
	return s
}

func (s site) cautions() []string {
	all := pack.Cautions(s.about)
	for i := range all {
		all[i] = tidy(all[i], noteText)
	}
	return all
}

// first is what stands before the maps.
func (s site) first() []section {
	a := s.about
	job := section{Title: "The job", Wide: []float64{0.28, 0.72}, Rows: [][]string{
		{"Job number", stated(a.Number)},
		{"Ticket", s.ticketNumber()},
		{"Last valid day", s.validity()},
		{"One-call number", stated(a.OneCall)},
		{"Pack written", stampOf(a.Packed)},
		{"Seal of the pack", cmp.Or(s.pack.Info.Seals.Name(), "none") + words.Say("brief.seal")},
		{"Brief written", stampOf(s.now)},
	}}
	all := []section{s.verdictSection()}
	if a.Invented {
		all = append(all, section{Title: "Invented, for practice", Loud: true, Notes: []string{"This job is invented. Never dig by it."}})
	}
	if s.past() {
		all = append(all, section{Title: "The ticket has run out", Loud: true, Notes: []string{"Its last valid day was " + s.about.Ticket.ValidUntil + ". Do not dig on it: ask the one-call center."}})
	}
	return append(all, job, s.notKnown(), section{Title: "Cautions", Loud: true, Notes: s.cautions()}, s.utilities())
}

func (s site) ticketNumber() string {
	if s.about.Ticket == nil {
		return "none stated in the job"
	}
	return stated(s.about.Ticket.Number)
}

// lastDay is the ticket's last valid day where now is.
func (s site) lastDay() (last time.Time, known bool) {
	if s.about.Ticket == nil {
		return last, false
	}
	last, err := time.ParseInLocation(time.DateOnly, s.about.Ticket.ValidUntil, s.now.Location())
	return last, err == nil
}

// past reports whether the ticket has run out.
func (s site) past() bool {
	last, known := s.lastDay()
	return known && !s.now.Before(last.AddDate(0, 0, 1))
}

// validity says whether the ticket has run out.
func (s site) validity() string {
	t := s.about.Ticket
	if t == nil || t.ValidUntil == "" {
		return "not stated: ask the one-call center before digging"
	}
	_, known := s.lastDay()
	switch {
	case !known:
		return stated(t.ValidUntil) + " (not a date): ask the one-call center before digging"
	case s.past():
		return t.ValidUntil + " — PAST. Do not dig on this ticket: ask the one-call center"
	}
	return t.ValidUntil + " (as stated in the job; the one-call center's confirmation governs)"
}

func stampOf(t time.Time) string {
	if t.IsZero() {
		return "not stated"
	}
	return measure.Moment(t)
}

// notKnown names what the brief cannot tell.
func (s site) notKnown() section {
	out := section{Title: "What is NOT known", Loud: true}
	for _, code := range s.missing {
		if slices.Contains(s.nothingHere, code) {
			out.Notes = append(out.Notes, words.Say("notknown.nothing_here", "utility", named(code)))
		} else {
			out.Notes = append(out.Notes, words.Say("notknown.no_record", "utility", named(code)))
		}
	}
	for _, code := range s.about.OnlyNear {
		out.Notes = append(out.Notes, words.Say("notknown.only_near", "utility", named(code)))
	}
	if len(s.about.Expected) == 0 {
		out.Notes = append(out.Notes, "The job does not say which utilities were notified.")
	}
	var none []string
	for _, u := range overlay.Utilities() {
		if !s.shown[u.Code] && u.Code != "survey" && u.Code != "proposed" && !slices.Contains(s.missing, u.Code) {
			none = append(none, u.Code)
		}
	}
	if len(none) > 0 {
		out.Notes = append(out.Notes, "Nothing in use is recorded here of: "+strings.Join(none, ", ")+". That does not mean that none is there.")
	}
	for _, o := range s.overlays {
		if n := o.Unlocated; n > 0 {
			out.Notes = append(out.Notes, fmt.Sprintf("%q holds %d records without a place; they are on no map.", tidy(o.Title, 60), n))
		}
	}
	out.Notes = append(out.Notes, s.unknowns()...)
	if s.about.Tolerance == nil || s.about.Tolerance.EachSide <= 0 {
		out.Notes = append(out.Notes, "The job states no tolerance rule: no tolerance zones are drawn.")
	}
	return out
}

func named(code string) string {
	if u, err := overlay.FindUtility(code); err == nil {
		return u.Code + " (" + u.Name + ")"
	}
	return stated(code)
}

// last is what stands behind the maps.
func (s site) last() []section {
	all := []section{s.crossingTable(), s.besideTable(), s.entries(), s.doubts(), s.records(), s.coverage()}
	for i := range all {
		all[i] = all[i].cut()
	}
	if holes := s.testHoleTable(); len(holes.Rows) > 0 {
		all = slices.Insert(all, 2, holes)
	}
	all = slices.Insert(all, 2, s.readingTable())
	if len(s.about.Rules) > 0 {
		all = slices.Insert(all, 2, s.rules().cut())
	}
	return all
}

func (s site) in(m float64) string { return measure.Distance(m).In(s.about.Units) }

func (s site) orUnknown(m *float64) string {
	if m == nil {
		return "not stated"
	}
	return s.in(*m)
}

// utilities is the table of what is known by utility.
func (s site) utilities() section {
	out := section{
		Title: "What is known, by utility", Head: []string{"Utility", "Lines, length", "Readings (with depth)", "Depths", "Oldest record", "Worst accuracy", "Quality level: features"},
		Wide: []float64{0.16, 0.14, 0.12, 0.14, 0.14, 0.15, 0.15},
	}
	if len(s.known.Statistics) == 0 {
		out.Notes = []string{"This pack holds no record of anything under the ground. That does not mean that nothing is there."}
	}
	for _, st := range s.known.Statistics {
		depths := "not stated"
		if st.ShallowestM != nil && st.DeepestM != nil {
			depths = depthText(st.ShallowestM, s.about.Units)
			if deepest := depthText(st.DeepestM, s.about.Units); deepest != depths {
				depths += " to " + deepest
			}
		}
		oldest := stated(st.Oldest)
		if st.Undated > 0 {
			oldest += fmt.Sprintf("; %d undated", st.Undated)
		}
		worst := s.orUnknown(st.WorstAccuracyM)
		if st.NoAccuracy > 0 && st.WorstAccuracyM != nil {
			worst += fmt.Sprintf("; %d state none", st.NoAccuracy)
		}
		count := lineCount(st.Lines, s.in(st.LengthM))
		if st.Proposed > 0 {
			count += "; " + words.Say("state.counted_proposed", "n", st.Proposed)
		}
		if !s.shown[st.Utility] {
			count += words.Say("brief.elsewhere")
		}
		out.Rows = append(out.Rows, []string{
			named(st.Utility), count,
			readingCount(st), depths, oldest, worst, levels(st.Levels),
		})
	}
	return out
}

func lineCount(n int, long string) string {
	switch n {
	case 0:
		return "no line"
	case 1:
		return "1 line, " + long
	}
	return fmt.Sprintf("%d lines, %s", n, long)
}

func levels(counts map[string]int) string {
	var all []string
	for level, n := range counts {
		all = append(all, fmt.Sprintf("%s: %d", stated(level), n))
	}
	slices.Sort(all)
	return tidy(strings.Join(all, ", "), cellText)
}

// crossings are those in the dig area first; their numbers are those on the map.
func (s site) crossings() []overlay.Crossing {
	all := slices.Clone(s.known.Crossings)
	slices.SortStableFunc(all, func(a, b overlay.Crossing) int {
		return cmp.Compare(outside(a.InArea), outside(b.InArea))
	})
	return all
}

func outside(in bool) int {
	if in {
		return 0
	}
	return 1
}
