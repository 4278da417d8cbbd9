package brief

import (
	"fmt"
	"html"
	"regexp"
	"strings"
	"testing"
	"time"

	"groundsheet/pack"
	"groundsheet/pack/record"
	"groundsheet/pack/record/derive"
	"groundsheet/tiles/words/golden"
)

var (
	image64 = regexp.MustCompile(`(?s)<head>.*?</head>|<img[^>]*>`)
	cellEnd = regexp.MustCompile(`</t[hd]><t[hd]>`)
	lineEnd = regexp.MustCompile(`</(h1|h2|p|li|tr)>`)
	tag     = regexp.MustCompile(`<[^>]*>`)
	seal    = regexp.MustCompile(`[0-9a-f]{4}-[0-9a-f]{4}\b`)
	blank   = regexp.MustCompile(`\n\s*\n+`)
)

// inUTC has times told in UTC for a test: golden texts tell times.
func inUTC(t *testing.T) {
	was := time.Local
	time.Local = time.UTC
	t.Cleanup(func() { time.Local = was })
}

// plain is what a brief says, without its maps.
func plain(page []byte) string {
	text := image64.ReplaceAllString(string(page), "")
	text = lineEnd.ReplaceAllString(cellEnd.ReplaceAllString(text, " | "), "\n")
	text = seal.ReplaceAllString(text, "0000-0000")
	return strings.TrimSpace(blank.ReplaceAllString(html.UnescapeString(tag.ReplaceAllString(text, "")), "\n")) + "\n"
}

// TestGoldenWords holds all that a brief says against a file to review; -update
// writes it anew.
func TestGoldenWords(t *testing.T) {
	inUTC(t)
	metric := about()
	metric.Units, metric.Tolerance.Stated, metric.Ticket.ValidUntil = "metric", "24 in", "2026-11-24"
	bare := pack.About{Name: "Nothing stated", Units: "us", TileSize: 256, Zooms: [2]int{17, 20}, Source: pack.AboutSource{Name: "grey"}}
	unfit := about()
	unfit.Expected = []string{"gas", "water"}
	unfit.ExpectedMissing, unfit.NothingHere = []string{"gas"}, []string{"gas"}
	ruled := about()
	ruled.Rules = []derive.Rule{
		{Between: [2]string{"gas", "any"}, Vertical: &derive.MinClearance{M: 0.3048, Stated: "12 in"}, Horizontal: &derive.MinClearance{M: 1.524, Stated: "5 ft"}, By: "operator's standard, sheet 4"},
		{Between: [2]string{"sewer", "sewer"}, Horizontal: &derive.MinClearance{M: 3, Stated: "3 m"}, By: "sheet 5"},
	}
	for name, c := range map[string]struct {
		about    pack.About
		overlays []record.Overlay
	}{
		"usual":  {about(), usual(t)},
		"states": {about(), states(t)},
		"metric": {metric, append(usual(t), sparse(t))},
		"bare":   {bare, nil},
		"pairs":  {ruled, pairs(t)},
		"unfit": {unfit, []record.Overlay{
			records(t, "w", "water", line(`"depth":"41in","size":"6 in"`, from(-50, 0), from(50, 0))), records(t, "g", "gas", line("", from(-10, 300), from(10, 300))),
		}},
	} {
		_, _, page := write(t, newPack(t, c.about, c.overlays...), Options{Scale: 480})
		golden.Hold(t, name, plain(page))
	}
}

// states are lines in every state, and two test holes.
func states(t *testing.T) []record.Overlay {
	of := func(north float64, properties string) string {
		return line(properties, from(-30, north), from(30, north))
	}
	return []record.Overlay{
		records(t, "w", "water", of(-9, `"line":"W1","status":"AIP","depth":"41in","depth_of":"top","size":"6 in"`)+","+of(-6, `"line":"W2","status":"OOS"`)+","+
			of(-3, `"line":"W3","status":"removed"`)+","+of(0, `"line":"W4","status":"in service"`)+","+of(3, "")+","+
			reading(`"kind":"test hole","line":"W1","depth":"3ft 4in","depth_of":"top","who":"crew 4","date":"2026-11-12","photo":"th1.jpg","elevation":"12.3 ft","vertical_datum":"NAVD 88"`, from(4, -9))+","+
			reading(`"kind":"test hole","label":"TH 2","line":"W4"`, from(4, 0))+","+reading(`"depth":"3ft","frequency_hz":8192`, from(9, 9))),
		records(t, "c", "communication", line(`"line":"C1","status":"planned","depth":"2ft","depth_of":"top","size":"2 in"`, from(0, -30), from(0, 30))),
	}
}

// pairs is a gas main with a water main 12 in below it and another 3 ft beside
// it, a water line of unknown depth near a reading, and a service that ends 8 in
// short.
func pairs(t *testing.T) []record.Overlay {
	whole := `"depth":"36in","depth_of":"top","size":"6 in","depth_accuracy":"1 in","accuracy":"2 in"`
	return []record.Overlay{
		records(t, "g", "gas", line(`"line":"G1","depth":"20in","depth_of":"top","size":"4 in","depth_accuracy":"1 in","accuracy":"2 in"`, from(-50, 0), from(50, 0))+","+
			line(`"line":"G2"`, from(9, 0.2), from(9, 30))),
		records(t, "w", "water", line(whole, from(0, -50), from(0, 50))+","+line(whole, from(-50, 0.9144), from(-30, 0.9144))+","+
			line(`"size":"6 in"`, from(15, -50), from(15, 50))),
		records(t, "r", "water", reading(`"line":"R","depth":"3ft 3in","depth_of":"top"`, from(15.3, 0))),
	}
}

// sparse is a communication line that only readings tell of, 30 m (98 ft) apart.
func sparse(t *testing.T) record.Overlay {
	return records(t, "c", "communication", reading(`"line":"K","depth":"2ft","depth_of":"top","date":"2026-11-01"`, from(-15, 10))+","+
		reading(`"line":"K","depth":"3ft","frequency":"8192 Hz"`, from(15, 10)))
}

// TestUnknowns: by hand, two of the three lines of usual have no depth or size of
// their own, and no line has an accuracy; readings 98 ft apart are a guess between.
func TestUnknowns(t *testing.T) {
	s, err := readPack(t.Context(), newPack(t, about(), append(usual(t), sparse(t))...), now)
	if err != nil {
		t.Fatal(err)
	}
	s.derived.Findings = append(s.derived.Findings, record.Finding{Kind: "row", Severity: record.Fault, Where: "r.csv", Line: 3})
	got := strings.Join(s.notKnown().Notes, "\n")
	for _, want := range []string{
		"Of 4 lines in the records: 1 without a depth, 2 without a size and 4 without an accuracy.",
		"At 3 of 4 crossings of recorded lines it is not known which line is above",
		"1 row of a record could not be read and is on no map; the table of doubts names it.",
		"communication K is drawn straight over 1 stretch without readings, the longest 98.4 ft: a guess, since readings more than 49.2 ft apart do not tell where a line runs between them.",
	} {
		if !strings.Contains(got, want) {
			t.Errorf("not said: %q; said:\n%s", want, got)
		}
	}
}

// TestLeftOutAndShifted: what the map manager left out, and a datum shift that
// the job asked for, come through the pack onto the paper.
func TestLeftOutAndShifted(t *testing.T) {
	shift, err := record.ParseShift("NAD83(2011) to WGS 84 at 2026.0", "us")
	if err != nil {
		t.Fatal(err)
	}
	m := record.Meta{
		File: "r.csv", Title: "Readings", Utility: "water", QualityLevel: "B", Datum: "NAD83(2011)", Shift: shift,
		LeaveOut: []record.LeftOut{{Line: 3, Why: "read over a vault"}, {Line: 5, Why: "no unit"}},
	}
	rows := record.Table{Header: []string{"depth"}}
	for i, cell := range []string{"41 in", "deep", "40 in", "38"} {
		rows.Rows = append(rows.Rows, record.TableRow{Line: i + 2, Cells: []string{cell}, Point: from(float64(i), 0), Decimals: 7})
	}
	o, err := record.FromTable(rows, m, "r", record.TableFormat{})
	if err != nil {
		t.Fatal(err)
	}
	p := newPack(t, about(), o)
	if got := p.Info.Overlays[0].LeftOut; len(got) != 2 || got[0] != m.LeaveOut[0] {
		t.Errorf("%+v", got)
	}
	_, _, page := write(t, p, Options{Scale: 480})
	got := plain(page)
	for _, want := range []string{
		"2 rows of Readings were left out by the map manager and are on no map: line 3: read over a vault; line 5: no unit",
		"WGS 84, shifted from NAD83(2011) at epoch 2026.0 by groundsheet, about 4.4 ft WEST and 20.4 in NORTH",
		"left out | r.csv, line 3 of its file | left out by the map manager, so on no map: read over a vault",
	} {
		if !strings.Contains(got, want) {
			t.Errorf("not said: %q; said:\n%s", want, got)
		}
	}
	if strings.Contains(got, "could not be read") {
		t.Error("rows that were left out count as unreadable")
	}
}

// TestEveryReadingIsOnPaper: 292 readings are 292 rows, whatever finds room on the
// sheets; of 2000, those in the dig area come first and the rest is told of.
func TestEveryReadingIsOnPaper(t *testing.T) {
	for n, rows := range map[int]int{292: 292, 2000: mostReadings} {
		var all []string
		for i := range n {
			all = append(all, reading(fmt.Sprintf(`"line":"W","label":"R%d","depth":"3ft 5in","accuracy":"2 in"`, i+1), from(float64(i%50)-45, float64(i/50)/4)))
		}
		s, err := readPack(t.Context(), newPack(t, about(), records(t, "w", "water", strings.Join(all, ","))), now)
		if err != nil {
			t.Fatal(err)
		}
		table := s.readingTable()
		if len(table.Rows) != rows || (len(table.Notes) == 1) != (n > rows) {
			t.Fatalf("%d readings: %d rows, %v", n, len(table.Rows), table.Notes)
		}
		if n == 292 {
			want := "R1|water W|0 in|3′ 5″|not stated|2 in|1998|"
			if got := strings.Join(table.Rows[0], "|"); !strings.HasPrefix(got, want) {
				t.Errorf("%q, want %q", got, want)
			}
		}
	}
}
