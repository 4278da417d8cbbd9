package handover

import (
	"cmp"
	"fmt"
	"slices"
	"strings"

	"groundsheet/pack"
	"groundsheet/tiles/words"
)

// Section is a part of what is to be read first; the report has the same.
type Section struct {
	Title string
	Lines []string
}

// readFirst is the text that goes along, up to the list of files.
func readFirst(m *material, o Options, s Summary, w *folder) string {
	sections := slices.Concat(before(m, o, s), after(m, o), []Section{formNotes(o, w), fieldNotes()})
	var b strings.Builder
	title := words.Say("handover.title", "name", short(o.Name, 200))
	fmt.Fprintf(&b, "%s\r\n%s\r\n", title, strings.Repeat("=", len([]rune(title))))
	for _, part := range sections {
		if len(part.Lines) == 0 {
			continue
		}
		fmt.Fprintf(&b, "\r\n%s\r\n%s\r\n", part.Title, strings.Repeat("-", len([]rune(part.Title))))
		for _, line := range part.Lines {
			b.WriteString(short(line, 4000) + "\r\n")
		}
	}
	title = words.Say("handover.files")
	fmt.Fprintf(&b, "\r\n%s\r\n%s\r\n", title, strings.Repeat("-", len([]rune(title))))
	return b.String()
}

// before is what nobody must miss.
func before(m *material, o Options, s Summary) []Section {
	job := Section{words.Say("handover.job"), []string{
		words.Say("handover.job_is", "name", short(o.Name, 200), "number", cmp.Or(short(o.Number, 100), words.Say("paper.not_stated"))),
		words.Say("handover.newest", "time", stampOf(m.changed())),
	}}
	if m.newest.IsZero() {
		job.Lines = job.Lines[:1]
	}
	return []Section{job, {words.Say("handover.cautions"), cautions(o)}, {words.Say("handover.part"), part(m, o)}, counts(m, s), {words.Say("handover.doubts"), m.doubts(o)}}
}

func cautions(o Options) (all []string) {
	if o.Invented {
		all = append(all, words.Say("paper.invented"))
	}
	if o.Pack != nil {
		return append(all, pack.Cautions(o.Pack.Info.About)...)
	}
	return append(all, words.Say("caution.always"), words.Say("caution.marks"), words.Say("caution.line"), words.Say("caution.depth"), words.Say("caution.damage"))
}

// part says what was left out; nil for a whole hand-over.
func part(m *material, o Options) (all []string) {
	if o.Area != nil {
		all = append(all, words.Say("handover.part_area", "area", short(cmp.Or(o.AreaName, words.Say("paper.not_stated")), 200)))
	}
	if o.Utilities != nil {
		all = append(all, words.Say("handover.part_utilities", "utilities", words.List(o.Utilities)))
	}
	if len(all) > 0 {
		all = append(all, words.Say("handover.part_left", "n", len(m.cut)))
	}
	return all
}

func counts(m *material, s Summary) Section {
	all := counted(m.found)
	if len(m.found) == 0 {
		all = append(all, words.Say("handover.none"))
	}
	add := func(n int, say string) {
		if n > 0 {
			all = append(all, say)
		}
	}
	add(s.NoPlace, words.Say("handover.count_no_place", "n", s.NoPlace))
	add(s.WorkedOut, words.Say("handover.count_joined", "n", s.WorkedOut))
	all = append(all, words.Say("handover.count_struck", "n", s.Struck))
	add(s.NoPhoto, words.Say("handover.count_photos", "n", s.NoPhoto))
	add(s.Records, words.Say("handover.count_records", "n", s.Records))
	for _, name := range []string{"accuracy_m", "quality_level", "method"} {
		n := 0
		for _, f := range m.found {
			if f.Source == FieldBook && f.Geometry != nil && f.Kind != "nothing found" && f.Values[name] == nil {
				n++
			}
		}
		add(n, words.Say("handover.count_unstated", "n", n, "what", strings.ReplaceAll(strings.TrimSuffix(name, "_m"), "_", " ")))
	}
	if n := asSet(m.found, "method"); n != "" {
		all = append(all, words.Say("handover.methods_set", "counts", n), words.Say("handover.levels_set", "counts", asSet(m.found, "quality_level")))
	}
	return Section{words.Say("handover.counts"), all}
}

// asSet counts the finds of the field books by a value that their phone kept from mark to
// mark; "" for no find.
func asSet(found []Find, name string) string {
	n := map[string]int{}
	for _, f := range found {
		if f.Source == FieldBook {
			n[short(orNot(f.text(name)), 40)]++
		}
	}
	var all []string
	for _, what := range sortedKeys(n) {
		all = append(all, words.Say("handover.as_set", "what", what, "n", n[what]))
	}
	return strings.Join(all, "; ")
}

// after is what explains the rest.
func after(m *material, o Options) []Section {
	books := Section{Title: words.Say("handover.books")}
	for _, b := range m.books {
		books.Lines = append(books.Lines, bookLines(b)...)
	}
	versions := Section{words.Say("handover.versions"), m.rivals}
	if len(m.rivals) > 0 {
		versions.Lines = append([]string{words.Say("handover.versions_about")}, m.rivals...)
	}
	return []Section{coordinates(m, o), versions, books}
}

// coordinates says what the numbers are on, and how many of the finds are on what.
func coordinates(m *material, o Options) Section {
	all := []string{words.Say("handover.system", "system", o.Ground.Text())}
	if !o.Ground.degrees() {
		all = append(all, words.Say("handover.system_forms"))
	}
	n := map[string]int{}
	var order []string
	for _, f := range m.found {
		d := o.Ground.datum(f)
		if n[d]++; n[d] == 1 {
			order = append(order, d)
		}
	}
	for _, d := range order {
		all = append(all, words.Say("handover.datum_count", "n", n[d], "datum", short(d, 200)))
	}
	return Section{words.Say("handover.coordinates"), append(all, words.Say("handover.datum_about"))}
}

// bookLines say what a book is and whether it is whole.
func bookLines(b BookState) []string {
	v := b.Verified
	all := []string{words.Say("handover.book", "name", short(b.Name, 200), "entries", v.Entries, "marks", v.Marks, "made", stampOf(b.About.Made))}
	if v.Whole() {
		all = append(all, words.Say("handover.book_whole", "hash", v.Last))
	} else {
		all = append(all, words.Say("handover.book_broken", "hash", v.Last))
		all = append(all, v.Faults...)
	}
	return append(all, v.Notes...)
}

// formNotes say what each form holds and loses.
func formNotes(o Options, w *folder) Section {
	about := map[Form]string{
		GeoJSON: words.Say("handover.form_geojson"), GeoPackage: words.Say("handover.form_gpkg"), KML: words.Say("handover.form_kml"),
		KMZ: words.Say("handover.form_kmz"), GPX: words.Say("handover.form_gpx"), Shapefile: words.Say("handover.form_shp"),
		CSV: words.Say("handover.form_csv"), DXF: words.Say("handover.form_dxf"), Report: words.Say("handover.form_report"),
	}
	s := Section{Title: words.Say("handover.forms")}
	for _, f := range Forms() {
		csv := f == CSV && (slices.Contains(o.Forms, Shapefile) || slices.Contains(o.Forms, DXF) || slices.Contains(o.Forms, GPX))
		if slices.Contains(o.Forms, f) || csv {
			s.Lines = append(s.Lines, about[f])
		}
	}
	if o.Tiles {
		s.Lines = append(s.Lines, words.Say("handover.form_tiles", "attribution", o.Pack.Info.About.Source.Attribution, "reference", o.Pack.Info.About.Source.Reference))
	}
	return Section{s.Title, append(s.Lines, w.notes...)}
}

// fieldNotes explain every field.
func fieldNotes() Section {
	s := Section{Title: words.Say("handover.fields"), Lines: []string{words.Say("handover.fields_about")}}
	for _, f := range Fields() {
		line := f.Name + ": " + f.About
		if f.Unit != "" {
			line += " (" + f.Unit + ")"
		}
		s.Lines = append(s.Lines, line)
	}
	return s
}
