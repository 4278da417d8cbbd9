package brief

import (
	"slices"
	"strings"
	"testing"

	"github.com/paulmach/orb"

	"groundsheet/pack/record"
)

// drawn is a canvas that keeps what is drawn on it.
type drawn struct {
	strokes []pen
	ends    [][]orb.Point
	texts   []string
	fills   []string
}

func (d *drawn) Picture([]byte, box)                    {}
func (d *drawn) Fill(_ []orb.Ring, c string, _ float64) { d.fills = append(d.fills, c) }
func (d *drawn) Disc(orb.Point, float64, string)        {}
func (d *drawn) Clip(box)                               {}
func (d *drawn) Unclip()                                {}
func (d *drawn) Text(_ orb.Point, s string, _ lettering) {
	d.texts = append(d.texts, s)
}

func (d *drawn) Stroke(path []orb.Point, p pen) {
	d.strokes, d.ends = append(d.strokes, p), append(d.ends, path)
}

// inked counts the strokes in ink, and how many of them run down to the right
// as seen on paper.
func (d *drawn) inked() (all, down int) {
	for i, p := range d.strokes {
		if p.color != black || p.width != strokeWidth {
			continue
		}
		a, b := d.ends[i][0], d.ends[i][1]
		if all++; (b[0]-a[0])*(b[1]-a[1]) > 0 {
			down++
		}
	}
	return all, down
}

// A line of 60 mm is struck out every 40 points (14.1 mm) from a quarter of
// that on: at 3.5, 17.6, 31.8, 45.9 and 60.0 mm, which is past its end.
func TestStatesAreDrawnApart(t *testing.T) {
	path := []orb.Point{{0, 0}, {59, 0}}
	style := record.SymbologyOf("electric", "D")
	for state, want := range map[record.State][2]int{
		record.Abandoned: {8, 4}, record.OutOfService: {4, 4}, record.Proposed: {0, 0}, record.InService: {0, 0}, record.NotRead: {0, 0}, "": {0, 0},
	} {
		for _, p := range [][]orb.Point{path, {path[1], path[0]}} { // from both ends
			d := &drawn{}
			drawState(d, p, style, record.StateSymbologyOf(state), lineWidth)
			all, down := d.inked()
			if state == record.OutOfService && down == 0 {
				down = all // leaning the other way is one look too
			}
			if [2]int{all, down} != want {
				t.Errorf("%q: %d strokes, %d of them down, want %v", state, all, down, want)
			}
			hollow := slices.ContainsFunc(d.strokes, func(p pen) bool {
				return p.color == style.Casing && p.width == coreWidth && slices.Equal(p.dash, style.Dash)
			})
			if hollow != (state == record.Proposed) {
				t.Errorf("%q: hollow %v", state, hollow)
			}
		}
	}
	short := &drawn{} // struck out also where it is shorter than the way between strokes
	drawState(short, []orb.Point{{0, 0}, {2, 0}}, style, record.StateSymbologyOf(record.Abandoned), lineWidth)
	if all, _ := short.inked(); all != 2 {
		t.Errorf("%d strokes on a short line", all)
	}
}

func TestStatesAndTestHolesOnPaper(t *testing.T) {
	s, err := readPack(t.Context(), newPack(t, about(), states(t)...), now)
	if err != nil {
		t.Fatal(err)
	}
	p := newPDF("Letter", "t", now)
	d := &drawn{}
	v := newView(1, middle, 480, box{0, 0, 200, 200})
	s.drawRecords(d, v, newLabelPlacer(p, v.on))
	for _, want := range []string{"W abandoned", "W out of service", "W", "C proposed", "W 3′ 4″"} {
		if !slices.Contains(d.texts, want) {
			t.Errorf("%q is not written: %q", want, d.texts)
		}
	}
	var legend []string
	for _, e := range s.legendEntries() {
		legend = append(legend, e.text)
	}
	for _, want := range []string{"abandoned: treat as live", "out of service: treat as live", "proposed, by the record", "test hole: exposed there"} {
		if !slices.Contains(legend, want) {
			t.Errorf("the legend does not tell %q: %q", want, legend)
		}
	}
	plain, err := readPack(t.Context(), newPack(t, about(), usual(t)...), now)
	if err != nil {
		t.Fatal(err)
	}
	if slices.ContainsFunc(plain.legendEntries(), func(e legendEntry) bool { return strings.HasPrefix(e.text, "test hole") }) {
		t.Error("the legend has test holes where there are none")
	}
	if n := len(plain.stateLegend()) + len(plain.testHoleTable().Rows); n != 0 {
		t.Errorf("%d entries for what is not there", n)
	}
}

func TestTestHoleTable(t *testing.T) {
	s, err := readPack(t.Context(), newPack(t, about(), states(t)...), now)
	if err != nil {
		t.Fatal(err)
	}
	var rows []string
	for _, r := range s.testHoleTable().Rows {
		rows = append(rows, strings.Join(r[:8], "|"))
	}
	want := []string{ // 34 m are 112 ft
		"not numbered|water W1, abandoned|112 ft|3′ 4″|top; elevation 12.3 ft, vertical datum NAVD 88|crew 4|2026-11-12|th1.jpg",
		"TH 2|water W4|112 ft|not stated|not stated|not stated|1998|none stated",
	}
	if !slices.Equal(rows, want) {
		t.Errorf("%q", rows)
	}
	if n := len(s.readingTable().Rows); n != 1 {
		t.Errorf("%d readings, want 1", n)
	}
	holes := make([]string, mostReadings+2)
	for i := range holes {
		holes[i] = reading(`"kind":"test hole"`, from(float64(i%50)/2, 100))
	}
	holes[len(holes)-1] = reading(`"kind":"test hole","who":"me"`, from(0, 0))
	if s, err = readPack(t.Context(), newPack(t, about(), records(t, "w", "water", strings.Join(holes, ","))), now); err != nil {
		t.Fatal(err)
	}
	if table := s.testHoleTable(); len(table.Rows) != mostReadings || table.Rows[0][5] != "me" || !strings.HasPrefix(table.Notes[0], "2 more test holes") {
		t.Errorf("%d rows, %q first, %q", len(table.Rows), table.Rows[0], table.Notes)
	}
}
