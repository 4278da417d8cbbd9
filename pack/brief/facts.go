package brief

import (
	"cmp"
	"fmt"
	"slices"
	"strings"
	"time"

	"groundsheet/pack"
	"groundsheet/pack/record"
	"groundsheet/pack/record/derive"
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

// table is an empty table. The heads of its columns are one text; widths are parts
// of the whole.
func table(title, heads string, widths ...float64) section {
	return section{Title: title, Head: strings.Split(heads, " | "), Wide: widths}
}

// mostRows keeps a brief from being a book.
const mostRows = 150

// cut leaves out what is more than mostRows, and says so.
func (s section) cut() section {
	if n := len(s.Rows) - mostRows; n > 0 {
		s.Rows = s.Rows[:mostRows]
		s.Notes = append(s.Notes, words.Say("paper.more", "n", n))
	}
	return s
}

// identity is number and ticket in one line.
func (s site) identity(most int) string {
	parts := []string{words.Say("paper.identity_number", "number", statedIn(s.about.Number, most/2))}
	switch t := s.about.Ticket; {
	case t == nil:
		parts = append(parts, words.Say("paper.identity_no_ticket"))
	case s.past():
		parts = append(parts, words.Say("paper.identity_expired", "number", statedIn(t.Number, most/2), "day", statedIn(t.ValidUntil, 12)))
	default:
		parts = append(parts, words.Say("paper.identity_ticket", "number", statedIn(t.Number, most/2), "day", statedIn(t.ValidUntil, 12)))
	}
	if !s.fit {
		parts = append(parts, words.Say("paper.identity_not_fit"))
	}
	return strings.Join(parts, " · ")
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
	job := section{Title: words.Say("paper.job"), Wide: []float64{0.28, 0.72}, Rows: [][]string{
		{words.Say("paper.job_number"), stated(a.Number)},
		{words.Say("paper.ticket"), s.ticketNumber()},
		{words.Say("paper.day"), s.validity()},
		{words.Say("paper.one_call"), stated(a.OneCall)},
		{words.Say("paper.packed"), stampOf(a.Packed)},
		{words.Say("paper.seal"), cmp.Or(s.pack.Info.Seals.Name(), words.Say("paper.none")) + words.Say("brief.seal")},
		{words.Say("paper.written"), stampOf(s.now)},
	}}
	all := []section{s.verdictSection()}
	if a.Invented {
		all = append(all, section{Title: words.Say("paper.invented_title"), Loud: true, Notes: []string{words.Say("paper.invented")}})
	}
	if s.past() {
		all = append(all, section{Title: words.Say("paper.expired_title"), Loud: true, Notes: []string{words.Say("paper.expired", "day", s.about.Ticket.ValidUntil)}})
	}
	return append(all, job, s.notKnown(), section{Title: words.Say("paper.cautions"), Loud: true, Notes: s.cautions()}, s.utilities())
}

func (s site) ticketNumber() string {
	if s.about.Ticket == nil {
		return words.Say("paper.ticket_none")
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

// past reports whether the ticket has expired.
func (s site) past() bool {
	last, known := s.lastDay()
	return known && !s.now.Before(last.AddDate(0, 0, 1))
}

// validity says whether the ticket has expired.
func (s site) validity() string {
	t := s.about.Ticket
	if t == nil || t.ValidUntil == "" {
		return words.Say("paper.day_none")
	}
	_, known := s.lastDay()
	switch {
	case !known:
		return words.Say("paper.day_bad", "day", stated(t.ValidUntil))
	case s.past():
		return words.Say("paper.day_past", "day", t.ValidUntil)
	}
	return words.Say("paper.day_open", "day", t.ValidUntil)
}

func stampOf(t time.Time) string {
	if t.IsZero() {
		return words.Say("paper.not_stated")
	}
	return measure.Moment(t)
}

// notKnown names what the brief cannot tell.
func (s site) notKnown() section {
	out := section{Title: words.Say("notknown.title"), Loud: true}
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
		out.Notes = append(out.Notes, words.Say("notknown.not_asked"))
	}
	var none []string
	for _, u := range record.Utilities() {
		if !s.shown[u.Code] && u.Code != "survey" && u.Code != "proposed" && !slices.Contains(s.missing, u.Code) {
			none = append(none, u.Code)
		}
	}
	if len(none) > 0 {
		out.Notes = append(out.Notes, words.Say("notknown.none_built", "utilities", words.List(none)))
	}
	for _, o := range s.overlays {
		if n := o.Unlocated; n > 0 {
			out.Notes = append(out.Notes, words.Say("notknown.placeless", "record", fmt.Sprintf("%q", tidy(o.Title, 60)), "n", n))
		}
	}
	out.Notes = append(out.Notes, s.unknowns()...)
	if s.about.Tolerance == nil || s.about.Tolerance.EachSide <= 0 {
		out.Notes = append(out.Notes, words.Say("notknown.no_tolerance"))
	}
	return out
}

func named(code string) string {
	if u, err := record.FindUtility(code); err == nil {
		return words.Say("paper.utility", "code", u.Code, "name", u.Name)
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
		return words.Say("paper.not_stated")
	}
	return s.in(*m)
}

// utilities is the table of what is known by utility.
func (s site) utilities() section {
	out := table(words.Say("paper.utilities"), words.Say("paper.utilities_head"), 0.16, 0.14, 0.12, 0.14, 0.14, 0.15, 0.15)
	if len(s.known.Statistics) == 0 {
		out.Notes = []string{words.Say("paper.utilities_none")}
	}
	for _, st := range s.known.Statistics {
		depths := words.Say("paper.not_stated")
		if st.ShallowestM != nil && st.DeepestM != nil {
			shallowest, deepest := depthText(st.ShallowestM, s.about.Units), depthText(st.DeepestM, s.about.Units)
			if depths = shallowest; deepest != shallowest {
				depths = words.Say("paper.range", "from", shallowest, "to", deepest)
			}
		}
		oldest := stated(st.Oldest)
		if st.Undated > 0 {
			oldest += "; " + words.Say("paper.undated", "n", st.Undated)
		}
		worst := s.orUnknown(st.WorstAccuracyM)
		if st.NoAccuracy > 0 && st.WorstAccuracyM != nil {
			worst += "; " + words.Say("paper.no_accuracy", "n", st.NoAccuracy)
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
	if n == 0 {
		return words.Say("paper.no_line")
	}
	return words.Say("paper.lines", "n", n, "long", long)
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
func (s site) crossings() []derive.Crossing {
	all := slices.Clone(s.known.Crossings)
	slices.SortStableFunc(all, func(a, b derive.Crossing) int { return insideFirst(a.InArea, b.InArea) })
	return all
}

// insideFirst compares so that what lies in the dig area comes first.
func insideFirst(a, b bool) int {
	switch {
	case a == b:
		return 0
	case a:
		return -1
	}
	return 1
}

// readingCount tells readings and, apart from them, test holes.
func readingCount(st derive.Statistics) string {
	text := words.Say("paper.readings", "n", st.Readings, "with_depth", st.WithDepth)
	if st.TestHoles > 0 {
		text += "; " + words.Say("testhole.count", "n", st.TestHoles)
	}
	return text
}
