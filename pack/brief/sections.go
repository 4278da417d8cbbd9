package brief

import (
	"cmp"
	"context"
	"fmt"
	"slices"
	"strings"
	"time"
	"unicode"

	"groundsheet/pack"
	"groundsheet/pack/check"
	"groundsheet/pack/record"
	"groundsheet/tiles/measure"
	"groundsheet/tiles/words"
)

// Section is a part of the brief in words, the same on paper and on the page.
type Section struct {
	Title string
	Notes []string
	Head  []string
	Wide  []float64 // of the columns, parts of the whole
	Rows  [][]string
	Loud  bool // its notes are the ones not to miss
}

// table is an empty table. The heads of its columns are one text; widths are parts
// of the whole.
func table(title, heads string, widths ...float64) Section {
	return Section{Title: title, Head: strings.Split(heads, " | "), Wide: widths}
}

// mostRows keeps a brief from being a book.
const mostRows = 150

// truncated leaves out what is more than mostRows, and says so.
func (s Section) truncated() Section {
	if n := len(s.Rows) - mostRows; n > 0 {
		s.Rows = s.Rows[:mostRows]
		s.Notes = append(s.Notes, words.Say("paper.more", "n", n))
	}
	return s
}

// identity is number and ticket in one line.
func (s packData) identity(most int) string {
	parts := []string{words.Say("paper.identity_number", "number", statedIn(s.about.Number, most/2))}
	switch t := s.about.Ticket; {
	case t == nil:
		parts = append(parts, words.Say("paper.identity_no_ticket"))
	case s.expired():
		parts = append(parts, words.Say("paper.identity_expired", "number", statedIn(t.Number, most/2),
			"day", statedIn(t.ValidUntil, 12)))
	default:
		parts = append(parts, words.Say("paper.identity_ticket", "number", statedIn(t.Number, most/2),
			"day", statedIn(t.ValidUntil, 12)))
	}
	if !s.fit {
		parts = append(parts, words.Say("paper.identity_not_fit"))
	}
	return strings.Join(parts, " · ")
}

func (s packData) cautions() []string {
	all := pack.Cautions(s.about)
	for i := range all {
		all[i] = sanitize(all[i], noteText)
	}
	return all
}

// sectionsBefore is what stands before the maps.
func (s packData) sectionsBefore() []Section {
	a := s.about
	job := Section{Title: words.Say("paper.job"), Wide: []float64{0.28, 0.72}, Rows: [][]string{
		{words.Say("paper.job_number"), stated(a.Number)},
		{words.Say("paper.ticket"), s.ticketNumber()},
		{words.Say("paper.day"), s.validity()},
		{words.Say("paper.one_call"), stated(a.OneCall)},
		{words.Say("paper.packed"), timeText(a.Packed)},
		{words.Say("paper.seal"), cmp.Or(s.pack.Info.Seals.Name(), words.Say("paper.none")) + words.Say("brief.seal")},
		{words.Say("paper.written"), timeText(s.now)},
	}}
	all := []Section{s.verdictSection()}
	if a.Invented {
		all = append(all, Section{Title: words.Say("paper.invented_title"), Loud: true,
			Notes: []string{words.Say("paper.invented")}})
	}
	if s.expired() {
		say := words.Say("paper.expired", "day", s.about.Ticket.ValidUntil)
		all = append(all, Section{Title: words.Say("paper.expired_title"), Loud: true, Notes: []string{say}})
	}
	return append(all, job, s.notKnown(), Section{Title: words.Say("paper.cautions"), Loud: true, Notes: s.cautions()},
		s.utilities())
}

func (s packData) ticketNumber() string {
	if s.about.Ticket == nil {
		return words.Say("paper.ticket_none")
	}
	return stated(s.about.Ticket.Number)
}

// lastDay is the ticket's last valid day where now is.
func (s packData) lastDay() (last time.Time, known bool) {
	if s.about.Ticket == nil {
		return last, false
	}
	last, err := time.ParseInLocation(time.DateOnly, s.about.Ticket.ValidUntil, s.now.Location())
	return last, err == nil
}

// expired reports whether the ticket has expired.
func (s packData) expired() bool {
	last, known := s.lastDay()
	return known && !s.now.Before(last.AddDate(0, 0, 1))
}

// validity says whether the ticket has expired.
func (s packData) validity() string {
	t := s.about.Ticket
	if t == nil || t.ValidUntil == "" {
		return words.Say("paper.day_none")
	}
	_, known := s.lastDay()
	switch {
	case !known:
		return words.Say("paper.day_bad", "day", stated(t.ValidUntil))
	case s.expired():
		return words.Say("paper.day_past", "day", t.ValidUntil)
	}
	return words.Say("paper.day_open", "day", t.ValidUntil)
}

func timeText(t time.Time) string {
	if t.IsZero() {
		return words.Say("paper.not_stated")
	}
	return measure.Moment(t)
}

// notKnown names what the brief cannot tell.
func (s packData) notKnown() Section {
	out := Section{Title: words.Say("notknown.title"), Loud: true}
	for _, code := range s.missing {
		if slices.Contains(s.nothingHere, code) {
			out.Notes = append(out.Notes, words.Say("notknown.nothing_here", "utility", utilityName(code)))
		} else {
			out.Notes = append(out.Notes, words.Say("notknown.no_record", "utility", utilityName(code)))
		}
	}
	for _, code := range s.about.OnlyNear {
		out.Notes = append(out.Notes, words.Say("notknown.only_near", "utility", utilityName(code)))
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
			out.Notes = append(out.Notes, words.Say("notknown.placeless", "record", fmt.Sprintf("%q", sanitize(o.Title, 60)),
				"n", n))
		}
	}
	out.Notes = append(out.Notes, s.openPoints()...)
	if s.about.Tolerance == nil || s.about.Tolerance.EachSide <= 0 {
		out.Notes = append(out.Notes, words.Say("notknown.no_tolerance"))
	}
	return out
}

func utilityName(code string) string {
	if u, err := record.FindUtility(code); err == nil {
		return words.Say("paper.utility", "code", u.Code, "name", u.Name)
	}
	return stated(code)
}

// sectionsAfter is what stands behind the maps.
func (s packData) sectionsAfter() []Section {
	all := []Section{s.crossingTable(), s.besideTable(), s.entries(), s.findingsTable(), s.records(), s.coverage()}
	for i := range all {
		all[i] = all[i].truncated()
	}
	if holes := s.testHoleTable(); len(holes.Rows) > 0 {
		all = slices.Insert(all, 2, holes)
	}
	all = slices.Insert(all, 2, s.readingTable())
	if len(s.about.Rules) > 0 {
		all = slices.Insert(all, 2, s.rules().truncated())
	}
	return all
}

func (s packData) in(m float64) string { return measure.Distance(m).In(s.about.Units) }

func (s packData) orUnknown(m *float64) string {
	if m == nil {
		return words.Say("paper.not_stated")
	}
	return s.in(*m)
}

// mostFaults are named on page one; check names the others.
const mostFaults = 8

// verdict is what check finds of the pack.
func (s *packData) verdict(ctx context.Context, now func() time.Time) error {
	r, err := check.Run(ctx, s.pack.Path, check.Options{Now: now})
	if err != nil {
		return err
	}
	s.fit, s.faultCount = r.Verdict == check.Fit, r.Faults
	for _, f := range r.Findings {
		if f.Severity == check.Fault {
			s.faults = append(s.faults, sanitize(f.Detail, 300))
		}
	}
	return nil
}

// verdictSection stands before anything else.
func (s packData) verdictSection() Section {
	if s.fit {
		return Section{Title: words.Say("brief.fit_title"), Notes: []string{words.Say("brief.fit")}}
	}
	out := Section{Title: words.Say("brief.not_fit_title"), Loud: true,
		Notes: []string{words.Say("brief.not_fit", "n", s.faultCount)}}
	for i, f := range s.faults {
		if i == mostFaults {
			out.Notes = append(out.Notes, words.Say("brief.more_faults", "n", s.faultCount-mostFaults))
			break
		}
		out.Notes = append(out.Notes, f)
	}
	return out
}

// Lengths that texts from a pack are cut to, in characters.
const (
	cellText = 120 // in a table
	noteText = 500 // in a paragraph
)

// sanitize makes a text from a pack fit to print: what acts on a screen is spelled
// out, line ends become blanks, marks that are not seen are taken out, and what is
// longer than most characters ends in "…".
func sanitize(s string, most int) string {
	var b strings.Builder
	n, blank := 0, true
	for _, r := range words.EscapeControls(s) {
		if unicode.Is(unicode.Cf, r) || unicode.Is(unicode.Mn, r) && n == 0 {
			continue
		}
		if unicode.IsSpace(r) || unicode.IsControl(r) || unicode.In(r, unicode.Zl, unicode.Zp) {
			if blank {
				continue
			}
			r = ' '
		}
		blank = r == ' '
		if n++; n > most {
			return strings.TrimRight(b.String(), " ") + "…"
		}
		b.WriteRune(r)
	}
	return strings.TrimRight(b.String(), " ")
}

// stated is a text for a table; an empty one is said to be.
func stated(s string) string { return statedIn(s, cellText) }

func statedIn(s string, most int) string {
	return cmp.Or(sanitize(s, most), words.Say("paper.not_stated"))
}

func unknown(s string) string { return cmp.Or(sanitize(s, cellText), words.Say("paper.unknown")) }
