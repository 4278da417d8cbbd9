package instrument

import (
	"fmt"
	"math"
	"strings"
	"testing"
)

var (
	keys = Format{
		Form: KeyValue, Columns: map[string]string{"depth": "D", "current": "I", "frequency": "F"},
		Units: map[string]string{"depth": "m", "current": "mA", "frequency": "kHz"}, DepthOf: "center of signal",
	}
	table = Format{
		Form: CSV, Separator: ";", Starts: "$LOC;", Values: []string{"", "depth", "", "frequency"},
		Columns: map[string]string{"depth": "depth", "frequency": "frequency"}, Units: map[string]string{"depth": "ft-in", "frequency": "Hz"},
	}
)

func text(v *float64) string {
	if v == nil {
		return "-"
	}
	return fmt.Sprintf("%.6g", *v)
}

func TestRead(t *testing.T) {
	for _, c := range []struct {
		f    Format
		line string
		want string // depth in meters, current in mA, frequency in Hz; "passed over", or part of the error
	}{
		{keys, "D=1.20,I=12,F=8.192", "1.2 12 8192"},
		{keys, " F = 33 , D = 0.5 ", "0.5 - 33000"},
		{keys, "F=512Hz,X=9", "- - 512"},
		{keys, "D=,F=33", "- - 33000"},
		{keys, "D=3ft 4in", "another unit"},
		{keys, "X=1", "passed over"},
		{keys, "", "passed over"},
		{keys, "D=1,D=2", "twice"},
		{keys, "D=deep", "deep"},
		{keys, "D=-1", "negative"},
		{keys, "D=1e9", "1e9"},
		{keys, "F=2000", "none of a locator"},
		{keys, "I=-3", "not a number"},
		{keys, "D=NaN", "NaN"},
		{keys, "D=1\x00", "not text"},
		{keys, "D=\xff", "not text"},
		{keys, "D=1," + strings.Repeat("x", 400), "400"},
		{table, "$LOC;7;3-4;x;8192", "1.016 - 8192"},
		{table, "$LOC;7;3-4;x;8192*47", "passed over"}, // replaced below
		{table, "$LOC;7;3-4", "4 are stated"},
		{table, "$OTHER;1;2;3;4", "passed over"},
		{table, `$LOC;"7;3-4;x;8192`, "quote"},
	} {
		if strings.Contains(c.line, "*47") {
			var sum byte
			for _, b := range []byte("LOC;7;3-4;x;8192") {
				sum ^= b
			}
			c.line, c.want = fmt.Sprintf("$LOC;7;3-4;x;8192*%02X", sum), "1.016 - 8192"
			if _, _, err := c.f.Read(fmt.Sprintf("$LOC;7;3-4;x;8192*%02X", sum^1)); err == nil || !strings.Contains(err.Error(), "checksum") {
				t.Errorf("a wrong checksum: %v", err)
			}
		}
		if err := c.f.Check(); err != nil {
			t.Fatal(err)
		}
		r, ok, err := c.f.Read(c.line)
		got := strings.Join([]string{text(r.DepthM), text(r.CurrentMA), text(r.FrequencyHz)}, " ")
		switch {
		case err != nil:
			if !strings.Contains(err.Error(), c.want) {
				t.Errorf("%q: %v, want %q", c.line, err, c.want)
			}
		case !ok:
			if c.want != "passed over" {
				t.Errorf("%q is passed over, want %s", c.line, c.want)
			}
		case got != c.want || r.Line != c.line:
			t.Errorf("%q: %s (%q), want %s", c.line, got, r.Line, c.want)
		}
	}
}

func TestDepthOfGoesWithADepth(t *testing.T) {
	r, _, err := keys.Read("D=1")
	if err != nil || r.DepthOf != "center of signal" || r.DepthAsTold != "1 m" {
		t.Errorf("%+v, %v", r, err)
	}
	if r, _, err = keys.Read("F=33"); err != nil || r.DepthOf != "" {
		t.Errorf("%+v, %v", r, err)
	}
}

func TestCheck(t *testing.T) {
	change := func(f Format, by func(*Format)) Format { by(&f); return f }
	for _, c := range []struct {
		f    Format
		want string
	}{
		{Format{}, "columns are missing"},
		{change(keys, func(f *Format) { f.Form = "xml" }), `want "csv" or "key=value"`},
		{change(keys, func(f *Format) { f.Separator = "::" }), "one character"},
		{change(keys, func(f *Format) { f.Separator = "=" }), "one character"},
		{change(keys, func(f *Format) { f.Values = []string{"D"} }), "values are for"},
		{change(table, func(f *Format) { f.Values = nil }), "values are missing"},
		{change(table, func(f *Format) { f.Values = []string{"depth"} }), "no value is called"},
		{change(keys, func(f *Format) { f.Columns = map[string]string{"gain": "G"} }), "not read of an instrument"},
		{change(keys, func(f *Format) { f.Units = nil }), "unit"},
		{change(keys, func(f *Format) { f.Units = map[string]string{"depth": "furlong", "current": "mA", "frequency": "Hz"} }), "furlong"},
		{change(keys, func(f *Format) { f.Columns = map[string]string{"depth": "D"} }), "not in columns"},
	} {
		if err := c.f.Check(); err == nil || !strings.Contains(err.Error(), c.want) {
			t.Errorf("%+v: %v, want %q", c.f, err, c.want)
		}
	}
}

func FuzzRead(f *testing.F) {
	for _, s := range []string{"D=1.2,F=33", "$LOC;1;3-4;x;8192", "$LOC;*00", `$LOC;"`, "D=1e308", ",,,=,"} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, line string) {
		for _, format := range []Format{keys, table} {
			r, ok, err := format.Read(line)
			if err != nil && ok {
				t.Fatalf("%q: both an error and a reading", line)
			}
			for _, v := range []*float64{r.DepthM, r.CurrentMA, r.FrequencyHz} {
				if ok && v != nil && (*v < 0 || math.IsNaN(*v) || math.IsInf(*v, 0)) {
					t.Fatalf("%q says %v", line, *v)
				}
			}
		}
	})
}
