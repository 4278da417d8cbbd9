package record

import (
	"math"
	"strings"
	"testing"

	"github.com/paulmach/orb"

	"groundsheet/tiles/measure"
)

func table(header string, rows ...string) Table {
	t := Table{Header: strings.Split(header, ",")}
	for i, r := range rows {
		t.Rows = append(t.Rows, TableRow{Line: i + 2, Cells: strings.Split(r, ","), Point: orb.Point{-105, 40}, Decimals: -1})
	}
	return t
}

// 3 ft 5 in = 41 in, 3 ft 4 in = 40 in, 3.5 ft is 3 ft 6 in: common practice.
// 1 in = 25.4 mm exactly (NIST SP 811).
func TestLengths(t *testing.T) {
	for _, c := range []struct {
		cell, unit string
		inches     float64 // NaN = refused
	}{
		{`3'5"`, "", 41}, {"3 ft 5 in", "", 41}, {"3-5", "ft-in", 41}, {"3 - 4", "ft-in", 40}, {"41", "in", 41}, {"41 in", "", 41}, {"3.5", "ft", 42},
		{"1.0414", "m", 41}, {"104.14", "cm", 41}, {"1.0414 m", "", 41}, {"3", "ft-in", math.NaN()}, {"38", "ft-in", math.NaN()}, {"0", "ft-in", 0}, {"3'5\"", "ft", 41}, {"41in", "ft", 41},
		{"3.5", "", math.NaN()}, {"3-5", "", math.NaN()}, {"3-5", "ft", math.NaN()}, {"3-12", "ft-in", math.NaN()}, {"5.10", "ft-in", math.NaN()},
		{"-3", "ft", math.NaN()}, {"1.2m", "ft", math.NaN()}, {"3ft", "m", math.NaN()}, {"deep", "ft", math.NaN()}, {"1e2", "ft", math.NaN()},
		{`3' 5 1/2"`, "", 41.5}, {"3 ft 5-1/2 in", "", 41.5}, {`3'-5"`, "ft-in", 41}, {"1/2 ft", "", 6}, {"5 1/2 in", "in", 5.5}, {"3' 5", "ft-in", 41}, {"3-5 1/2", "ft-in", 41.5}, {"3-5-1/2", "ft-in", 41.5},
		{"3' 5", "", math.NaN()}, {"3' 5", "ft", math.NaN()}, {"4-5 ft", "", math.NaN()}, {"4-5 ft", "ft-in", math.NaN()}, {"4 to 5 ft", "ft", math.NaN()}, {"~4 ft", "", math.NaN()}, {"±4 ft", "", math.NaN()}, {"3-5 9/8", "ft-in", math.NaN()},
	} {
		unit, _ := findUnit(c.unit)
		got, err := parseLength(c.cell, unit)
		if math.IsNaN(c.inches) != (err != nil) || err == nil && math.Abs(got/measure.Inch-c.inches) > 1e-6 {
			t.Errorf("%q in %q: %v in, %v; want %v", c.cell, c.unit, got/measure.Inch, err, c.inches)
		}
	}
	// NIST: 600,000 m are 1,968,500 US survey feet exactly.
	if f := 600_000 / measure.SurveyFoot; math.Abs(f-1_968_500) > 1e-6 {
		t.Errorf("%v survey feet", f)
	}
}

func TestFromTable(t *testing.T) {
	in := table("Line ID,Depth (in),Freq (kHz),Current mA,Crew,Remarks", "W1,41,8.192,12.1,A,=1+1", "W1,deep,8,1,A,", "W1,40,8,11,B,")
	o, err := FromTable(in, water(), "w", TableFormat{})
	if err != nil || len(o.Features) != 2 {
		t.Fatal(err, o.Features)
	}
	p := o.Features[0].Properties
	for key, want := range map[string]any{"depth_m": 1.0414, "depth_as_written": "41 in", "frequency_hz": 8192.0, "current_ma": 12.1, "Crew": "A", "line": "W1", "note": "=1+1"} {
		if p[key] != want {
			t.Errorf("%s is %v, want %v", key, p[key], want)
		}
	}
	var told string
	for _, f := range o.Findings {
		told += f.Detail + "\n"
		if f.Kind == "row" && (f.Line != 3 || f.Severity != Fault || !strings.Contains(f.Detail, `"deep"`)) {
			t.Errorf("%+v", f)
		}
	}
	for _, says := range []string{`Columns were read as: depth from "Depth (in)" in inches, frequency from "Freq (kHz)" in kHz, current from "Current mA" in mA`, `Columns kept as they are: "Crew"`} {
		if !strings.Contains(told, says) {
			t.Errorf("%q is not told in:\n%s", says, told)
		}
	}
}

// TestSignalColumns: current and frequency as receivers and crews name them; what
// names no unit is refused in its row.
func TestSignalColumns(t *testing.T) {
	for _, c := range []struct {
		header, cell, key string
		want              float64
	}{
		{"Curr (mA)", "12.1", "current_ma", 12.1}, {"Curr. mA", "12.1", "current_ma", 12.1}, {"Curr.", "12.1 mA", "current_ma", 12.1},
		{"Amps", "0.25", "current_ma", 250}, {"Amps", "12 mA", "current_ma", 12}, {"Amps (mA)", "12", "current_ma", 12},
		{"Freq kHz", "8.192", "frequency_hz", 8192}, {"Freq. (kHz)", "33", "frequency_hz", 33000}, {"freq_hz", "512", "frequency_hz", 512},
	} {
		o, err := FromTable(table("depth (in),"+c.header, "41,"+c.cell), water(), "w", TableFormat{})
		if err != nil || len(o.Features) != 1 || o.Features[0].Properties[c.key] != c.want {
			t.Errorf("%s, %s: %v, %v", c.header, c.cell, err, o.Features)
		}
	}
	if _, err := FromTable(table("depth (in),Curr", "41,12.1"), water(), "w", TableFormat{}); err == nil || !strings.Contains(err.Error(), "has no unit") {
		t.Errorf("a current without a unit: %v", err)
	}
}

// TestOneBadCell: what is wrong in one row is told of that row, in its own
// words, and hides no other.
func TestOneBadCell(t *testing.T) {
	in := table("depth,accuracy,depth_accuracy,note", "3 ft,± 2 ft,,a", "38,2 ft,,b", "400 ft,x,,c", "4-5 ft,+/- 6 in,,d", "41 in,2 mi,,e", "3-5,,,f", "40 in,,thin,g", "3'-4\",1 ft,2 in,h")
	o, err := FromTable(in, water(), "w", TableFormat{})
	if err != nil {
		t.Fatal(err)
	}
	told := map[int]string{}
	for _, f := range o.Findings {
		if f.Kind == "row" && f.Severity == Fault {
			told[f.Line] = f.Detail
		}
	}
	for line, says := range map[int]string{3: `depth: "38" has no unit`, 4: `depth: "400 ft" is not between 0 and 328 ft (100 m), so its unit may be wrong; accuracy: "x" is not a length`, 5: `"4-5 ft" is not a length`,
		6: `accuracy: "2 mi" is not between 0 and 0.62 mi (1 km)`, 7: `"3-5" may be feet and inches or a range`, 8: "depth_accuracy"} {
		if !strings.Contains(told[line], says) || !strings.HasSuffix(told[line], ": this row is left out") {
			t.Errorf("line %d: %q does not say %q", line, told[line], says)
		}
	}
	if len(told) != 6 || len(o.Features) != 2 {
		t.Errorf("%d rows of 6 are told, %d features", len(told), len(o.Features))
	}
	p := o.Features[0].Properties
	if p["accuracy_m"] != 0.6096 || p["accuracy_as_written"] != "± 2 ft" || p["depth_m"] != 0.9144 {
		t.Errorf("%v", p)
	}
	if p := o.Features[1].Properties; p["depth_accuracy_m"] != 0.0508 || p["depth_m"] != 1.016 {
		t.Errorf("%v", p)
	}
}

func TestPlusMinusOfFeatures(t *testing.T) {
	for key, v := range map[string]string{"accuracy": "±6 in", "depth_accuracy": "+/- 6 in", "accuracy_in": "± 6"} {
		p, err := normalize(map[string]any{key: v})
		name, _, _ := strings.Cut(key, "_in")
		if err != nil || p[name+"_m"] != 0.1524 {
			t.Errorf("%s %q: %v, %v", key, v, p, err)
		}
	}
	if p, err := normalize(map[string]any{"depth": "± 6 in"}); err == nil {
		t.Errorf("an approximate depth was read: %v", p)
	}
}

func TestOtherTypes(t *testing.T) {
	o, err := FromTable(table("type,note", "water,a", "W,b", "gas,c"), water(), "w", TableFormat{})
	if err != nil {
		t.Fatal(err)
	}
	if last := o.Findings[len(o.Findings)-1]; last.Kind != "type" || !strings.Contains(last.Detail, "1 row (line 4) states") {
		t.Errorf("%+v", o.Findings)
	}
}

func TestColumnsStated(t *testing.T) {
	in := table("D1,Cover,Q", "3,9,7")
	o, err := FromTable(in, water(), "w", TableFormat{Columns: map[string]string{"depth": "D1"}, Units: map[string]string{"depth": "ft"}})
	if err != nil || o.Features[0].Properties["depth_m"] != 0.9144 {
		t.Errorf("%v %v", err, o.Features)
	}
	for name, c := range map[string]struct {
		in   Table
		how  TableFormat
		says string
	}{
		"no unit":        {in, TableFormat{}, `units = { depth = "in" }`},
		"no unit, ft-in": {table("depth,note", ",a", "deep,b", "38,c", "3-5,d"), TableFormat{}, `line 4: column "depth" has numbers without a unit: write units = { depth = "ft-in" } (or m, ft, in)`},
		"no unit, 3' 5":  {table("cover", "3' 5", "4' 1"), TableFormat{}, `units = { depth = "ft-in" }`},
		"no unit, ±":     {table("accuracy", "±2", "3"), TableFormat{}, `units = { accuracy = "in" }`},
		"two depths":     {table("depth (in),cover (in)", "1,2"), TableFormat{}, "both seem to be the depth"},
		"no column":      {in, TableFormat{Columns: map[string]string{"depth": "D2"}}, "no column"},
		"no meaning":     {in, TableFormat{Columns: map[string]string{"deepness": "D1"}}, "not something"},
		"strange unit":   {table("depth (fathom)", "1"), TableFormat{}, "not a unit"},
		"no unit used":   {in, TableFormat{Units: map[string]string{"accuracy": "m"}}, "no column is the accuracy"},
		"no row":         {table("depth (in)", "x", "y"), TableFormat{}, "none of 2 rows"},
	} {
		if _, err := FromTable(c.in, water(), "w", c.how); err == nil || !strings.Contains(err.Error(), c.says) {
			t.Errorf("%s: %v", name, err)
		}
	}
}

func TestSuspectUnits(t *testing.T) {
	for name, c := range map[string]struct {
		in   Table
		says string // "" = nothing to say
	}{
		"feet as inches": {table("depth (in)", "3", "4", "3.5"), "are they in feet"},
		"inches as feet": {table("depth (ft)", "36", "41", "40"), "are they in inches"},
		"feet as metres": {table("depth (m)", "3.5", "4", "3"), "are they in feet"},
		"feet.inches":    {table("depth (ft)", "3.5", "5.10", "4.11"), "5 ft 10 in"},
		"good feet":      {table("depth (ft)", "3.45", "5.10", "4.11"), ""},
		"good inches":    {table("depth (in)", "36", "41"), ""},
	} {
		o, err := FromTable(c.in, water(), "w", TableFormat{})
		if err != nil {
			t.Fatal(name, err)
		}
		told := ""
		for _, f := range o.Findings {
			if f.Kind == "units" {
				told += f.Detail
			}
		}
		if (c.says == "") != (told == "") || !strings.Contains(told, c.says) {
			t.Errorf("%s: %q", name, told)
		}
	}
}

func TestGuard(t *testing.T) {
	site := orb.Bound{Min: orb.Point{-80.01, 39.99}, Max: orb.Point{-80, 40}}
	in := table("note", "here", "swapped", "far", "coarse")
	in.Rows[0].Point, in.Rows[0].Decimals = orb.Point{-80.005, 39.995}, 7
	in.Rows[1].Point = orb.Point{39.995, -80.005}
	in.Rows[2].Point = orb.Point{-81, 40}
	in.Rows[3].Point, in.Rows[3].Decimals = orb.Point{-80.005, 39.995}, 5
	m := water()
	m.Datum = "NAD83(2011)"
	o, err := FromTable(in, m, "w", TableFormat{})
	if err != nil {
		t.Fatal(err)
	}
	got := map[string]string{}
	for _, f := range CheckSanity(o, site, SanityOptions{Year: 2026.9}) {
		got[f.Kind] = f.Detail
	}
	for kind, says := range map[string]string{"swapped axes": "1 record (line 3)", "far away": "1 record is more than 3.11 mi from the job (line 4)", "coarse": "5 decimals of a degree, a step of 3.65 ft on the ground", "datum": "EPSG:8970"} {
		if !strings.Contains(got[kind], says) {
			t.Errorf("%s: %q", kind, got[kind])
		}
	}
	m.Datum = "WGS 84"
	if f := datumFindings(m, orb.Point{-105, 40}, SanityOptions{Year: 2026}); f != nil {
		t.Errorf("%v", f)
	}
}

// TestDatumSaysWhereTheTrueLineLies: PROJ (cct, EPSG:8970 at 2026.0) puts the
// NAD83(2011) number 40 N 105 W 1.337 m west and 0.524 m north of the WGS 84
// place with the same number, where it is drawn.
func TestDatumSaysWhereTheTrueLineLies(t *testing.T) {
	m := water()
	m.Datum = "NAD83(2011)"
	for units, want := range map[string][]string{
		"us":     {"the lines are 4.39 ft east and 20.6 in south of where they should be", "the recorded line is 4.39 ft WEST and 20.6 in NORTH of the one drawn"},
		"metric": {"the lines are 1.34 m east and 52.4 cm south of where they should be", "the recorded line is 1.34 m WEST and 52.4 cm NORTH of the one drawn"},
	} {
		f := datumFindings(m, orb.Point{-105, 40}, SanityOptions{Year: 2026, Units: units})
		if len(f) != 1 || f[0].Severity != Warning {
			t.Fatalf("%+v", f)
		}
		for _, w := range want {
			if !strings.Contains(f[0].Detail, w) {
				t.Errorf("%s: %q does not say %q", units, f[0].Detail, w)
			}
		}
	}
}

func BenchmarkFromTable(b *testing.B) { // 100,000 readings
	in := Table{Header: []string{"depth (in)", "line"}}
	for i := range 100_000 {
		in.Rows = append(in.Rows, TableRow{Line: i + 2, Cells: []string{"41", "W1"}, Point: orb.Point{-105, 40}, Decimals: 7})
	}
	for b.Loop() {
		if _, err := FromTable(in, water(), "w", TableFormat{}); err != nil {
			b.Fatal(err)
		}
	}
}

func FuzzLength(f *testing.F) {
	for _, s := range []string{`3'5"`, "3-5", "3 ft 5 in", "41", "1.04 m", "5.10"} {
		f.Add(s, "ft-in")
	}
	f.Fuzz(func(t *testing.T, cell, unit string) {
		u, _ := findUnit(unit)
		if v, err := parseLength(cell, u); err == nil && !(v >= 0) {
			t.Fatalf("%q in %q is %v", cell, unit, v)
		}
	})
}

// FuzzTable: what is taken has depths within their limits, and every row is a
// feature or a finding.
func FuzzTable(f *testing.F) {
	f.Add("depth (ft),current (mA),line", "3.5,12,W1", "3'5\",9,W1")
	f.Fuzz(func(t *testing.T, header, one, two string) {
		in := table(header, one, two)
		for i := range in.Rows {
			if len(in.Rows[i].Cells) != len(in.Header) {
				in.Rows[i].Fault = "fields"
			}
		}
		o, err := FromTable(in, water(), "w", TableFormat{})
		if err != nil {
			return
		}
		rows := 0
		for _, f := range o.Findings {
			if f.Kind == "row" {
				rows++
			}
		}
		if rows+len(o.Features) != 2 {
			t.Fatalf("%d findings and %d features of 2 rows", rows, len(o.Features))
		}
	})
}
