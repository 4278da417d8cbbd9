package handover

import (
	"bytes"
	"cmp"
	"context"
	"fmt"
	"slices"
	"strings"
	"time"

	"github.com/paulmach/orb"

	"groundsheet/pack/brief"
	"groundsheet/pack/fieldbook"
	"groundsheet/pack/record"
	"groundsheet/serve/position"
	"groundsheet/tiles/measure"
	"groundsheet/tiles/words"
)

// report writes what was found as paper: how, how good, and what was not found.
func (w *folder) report(ctx context.Context, m *material, o Options, s Summary) error {
	d := brief.Document{Title: words.Say("handover.title", "name", o.Name), Sign: sign()}
	for _, part := range before(m, o, s) {
		if len(part.Lines) > 0 {
			loud := part.Title == words.Say("handover.cautions") || part.Title == words.Say("handover.part") || part.Title == words.Say("handover.doubts")
			d.First = append(d.First, brief.Section{Title: part.Title, Notes: part.Lines, Loud: loud})
		}
	}
	d.First = append(d.First, notFound(m, o), howGood(m, o))
	d.Last = []brief.Section{findTable(m, o)}
	if s.WorkedOut > 0 {
		d.Last = append(d.Last, joinedTable(m, o))
	}
	for _, part := range after(m, o) {
		if len(part.Lines) > 0 {
			d.Last = append(d.Last, brief.Section{Title: part.Title, Notes: part.Lines, Loud: !s.Whole && part.Title == words.Say("handover.books")})
		}
	}
	d.Overlays, d.Looked = m.onMaps()
	for _, f := range m.found {
		for _, hash := range f.Photos {
			p := m.photos[hash]
			caption := f.caption(o.Units, p.name)
			d.Photos = append(d.Photos, brief.DocumentPhoto{Caption: caption, Read: func(ctx context.Context) ([]byte, error) {
				data, _, err := p.book.Photo(ctx, hash)
				return data, err
			}})
		}
	}
	var out bytes.Buffer
	if _, err := d.Write(ctx, o.Pack, &out, brief.Options{Now: m.changed}); err != nil {
		return err
	}
	return w.write(record.Slug(o.Name)+"-report.pdf", out.Bytes())
}

// caption says of a photo what it shows, when and by whom it was recorded, and where.
func (f Find) caption(units, file string) string {
	what := strings.Join(append([]string{f.Utility, f.Kind}, stated(f, "label", "size", "note")...), ", ")
	parts := []string{short(what, 120)}
	if depth := f.depthShown(units); depth != "" {
		parts = append(parts, short(depth, 60))
	}
	return strings.Join(append(parts, orNot(moment0(f.text("recorded"))), orNot(f.text("who")), f.placeWords(), file), " · ")
}

// onMaps are the finds that the maps show: in the shape of records, and where nothing was
// found.
func (m *material) onMaps() (overlays []record.Overlay, looked []orb.Geometry) {
	for _, f := range m.found {
		if f.Kind == fieldbook.NothingFound && f.Geometry != nil {
			looked = append(looked, f.Geometry)
		}
	}
	return fieldbook.Overlays(m.keptMarks()), looked
}

// moment0 is a time for a table; "" where it is none.
func moment0(s string) string {
	t, err := time.Parse(time.RFC3339, s)
	if err != nil {
		return s
	}
	return t.UTC().Format("2006-01-02 15:04 UTC")
}

// orNot is a text of a table.
func orNot(s string) string { return cmp.Or(s, words.Say("paper.not_stated")) }

// length is one in the job's units; nil is not stated.
func length(m *float64, units string) string {
	if m == nil {
		return words.Say("paper.not_stated")
	}
	return measure.Distance(*m).In(units)
}

// notFound lists where nothing was found, and what could not be located.
func notFound(m *material, o Options) brief.Section {
	s := brief.Section{
		Title: words.Say("handover.not_found"), Loud: true,
		Head: strings.Split(words.Say("handover.not_found_head"), " | "), Wide: []float64{0.22, 0.36, 0.2, 0.22},
	}
	for _, f := range m.found {
		if f.Kind != fieldbook.NothingFound && f.Kind != fieldbook.Unlocatable {
			continue
		}
		how := strings.Join(stated(f, "method", "reason", "note"), "; ")
		s.Rows = append(s.Rows, []string{f.Utility + ", " + f.Kind, orNot(how), when(f), where(f, o)})
	}
	s.Notes = []string{words.Say("handover.not_found_about")}
	if len(s.Rows) == 0 {
		s.Head, s.Notes = nil, []string{words.Say("handover.not_found_none")}
	}
	return s
}

func stated(f Find, names ...string) (all []string) {
	for _, name := range names {
		if v := f.shown(name); v != "" {
			all = append(all, v)
		}
	}
	return all
}

// shown is a value as people write it.
func (f Find) shown(name string) string {
	if name == "fix" {
		return position.FixKind(f.text(name)).Text()
	}
	return f.text(name)
}

func when(f Find) string {
	return strings.Join([]string{orNot(f.text("who")), orNot(moment0(f.text("recorded")))}, ", ")
}

// where is a place in the system that was asked for.
func where(f Find, o Options) string {
	if f.Geometry == nil {
		return words.Say("handover.no_place")
	}
	if o.Ground.degrees() {
		return f.placeWords()
	}
	g, err := o.Ground.place(f)
	if err != nil {
		return f.placeWords()
	}
	p := g.Bound().Center()
	return words.Say("handover.east_north", "east", decimal(p[0], 3), "north", decimal(p[1], 3))
}

// howGood tells how the finds were located, and how well, in counts.
func howGood(m *material, o Options) brief.Section {
	s := brief.Section{Title: words.Say("handover.how_good"), Head: strings.Split(words.Say("handover.how_good_head"), " | "), Wide: []float64{0.3, 0.1, 0.6}}
	for _, by := range []struct{ field, title string }{
		{"method", words.Say("handover.by_method")}, {"quality_level", words.Say("handover.by_level")},
		{"position_from", words.Say("handover.by_position")}, {"fix", words.Say("handover.by_fix")},
	} {
		n := map[string]int{}
		least, most := map[string]*float64{}, map[string]*float64{}
		for _, f := range m.found {
			if f.Source != FieldBook {
				continue
			}
			key := short(f.shown(by.field), 40)
			if doubts := f.placeDoubts(); len(doubts) > 0 && doubts[0].unknown && (by.field == "position_from" || by.field == "fix") {
				key += "; " + doubts[0].kind
			}
			n[key]++
			if a := f.number("accuracy_m"); a != nil {
				if least[key] == nil || *a < *least[key] {
					least[key] = a
				}
				if most[key] == nil || *a > *most[key] {
					most[key] = a
				}
			}
		}
		for _, key := range sortedKeys(n) {
			accuracy := words.Say("handover.accuracy_none")
			switch {
			case most[key] == nil:
			case *most[key] == *least[key]:
				accuracy = words.Say("handover.accuracy_one", "m", length(most[key], o.Units))
			default:
				accuracy = words.Say("handover.accuracy_range", "least", length(least[key], o.Units), "most", length(most[key], o.Units))
			}
			s.Rows = append(s.Rows, []string{by.title + ": " + orNot(key), fmt.Sprint(n[key]), accuracy})
		}
	}
	s.Notes = []string{words.Say("handover.how_good_about")}
	return s
}

func sortedKeys(n map[string]int) (all []string) {
	for key := range n {
		all = append(all, key)
	}
	slices.Sort(all)
	return all
}

// mostRows of a table are printed; the others are in the CSV (the project's own choice).
const mostRows = 1500

// findTable lists each find that is not worked out.
func findTable(m *material, o Options) brief.Section {
	s := brief.Section{
		Title: words.Say("handover.find_table"), Head: strings.Split(words.Say("handover.find_head"), " | "),
		Wide: []float64{0.08, 0.15, 0.13, 0.15, 0.21, 0.14, 0.14},
	}
	for _, f := range m.found {
		if f.Source == WorkedOut || f.Kind == fieldbook.NothingFound || f.Kind == fieldbook.Unlocatable {
			continue
		}
		if len(s.Rows) == mostRows {
			s.Notes = []string{words.Say("handover.find_more", "n", mostRows)}
			break
		}
		what := strings.Join(append([]string{f.Utility + ", " + f.Kind}, stated(f, "label", "size", "owner", "note")...), "; ")
		if f.text("line") != f.text("run") {
			what += "; " + f.lineName()
		}
		depth := orNot(f.depthShown(o.Units))
		if of := f.text("depth_reference"); of != "" && f.depth() != "" {
			depth += ", " + words.Say("handover.depth_to", "what", of)
		}
		level := orNot("")
		if l := f.text("quality_level"); l != "" {
			level = words.Say("handover.drawn_level", "level", l)
		}
		how := orNot(f.text("method")) + "; " + level
		good := goodness(f, o.Units)
		s.Rows = append(s.Rows, []string{f.ID[:min(8, len(f.ID))], what, depth, how, good, when(f), where(f, o)})
	}
	if len(s.Rows) == 0 {
		s.Head, s.Notes = nil, []string{words.Say("handover.none")}
	}
	return s
}

// goodness tells how far off a find may be, and what its position leaves open.
func goodness(f Find, units string) string {
	off, doubts := length(f.number("accuracy_m"), units), f.placeDoubts()
	if len(doubts) > 0 && doubts[0].unknown {
		off = doubts[0].text
		doubts = doubts[1:]
	}
	if from := strings.Join(stated(f, "position_from", "fix"), ", "); from != "" {
		off += " (" + from + ")"
	}
	for _, d := range doubts {
		off += "; " + d.text
	}
	return off
}

// lineName is the name of the line that a find belongs to, else the beginning of its ID.
func (f Find) lineName() string {
	if line := f.text("line"); line != f.text("run") {
		return short(line, 60)
	}
	return short(f.text("run"), 8)
}

func joinedTable(m *material, o Options) brief.Section {
	s := brief.Section{Title: words.Say("handover.joined_table"), Head: strings.Split(words.Say("handover.joined_head"), " | "), Wide: []float64{0.2, 0.15, 0.15, 0.5}}
	for _, f := range m.found {
		if f.Source == WorkedOut && len(s.Rows) < mostRows {
			s.Rows = append(s.Rows, []string{f.Utility + ", " + f.lineName(), orNot(f.text("quality_level")), length(f.number("accuracy_m"), o.Units), f.text("limits")})
		}
	}
	return s
}

// sign is where whoever found it, and whoever takes it over, put their names by hand.
func sign() *brief.Section {
	row := func(who string) []string {
		return []string{who, words.Say("handover.sign_name"), words.Say("handover.sign_date")}
	}
	return &brief.Section{
		Title: words.Say("handover.sign"), Notes: []string{words.Say("handover.sign_about")},
		Rows: [][]string{row(words.Say("handover.sign_found")), row(words.Say("handover.sign_checked")), row(words.Say("handover.sign_taken"))},
	}
}
