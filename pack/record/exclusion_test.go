package record

import (
	"slices"
	"strings"
	"testing"
)

func leaving(rows ...LeftOut) Meta {
	m := water()
	m.File, m.LeaveOut = "readings.csv", rows
	return m
}

// TestLeaveOut: a row that is left out is not read, so its fault is gone, and
// so is the one that would have refused the whole column; it is told instead.
func TestLeaveOut(t *testing.T) {
	in := table("depth,note", "41 in,a", "deep,b", "40 in,c")
	o, err := FromTable(in, leaving(LeftOut{3, "read over a vault"}), "w", TableFormat{})
	if err != nil || len(o.Features) != 2 {
		t.Fatal(err, o.Features)
	}
	var told []Finding
	for _, f := range o.Findings {
		if f.Kind == "row" || f.Kind == "left out" {
			told = append(told, f)
		}
	}
	if len(told) != 1 || told[0].Kind != "left out" || told[0].Severity != Warning || told[0].Line != 3 || !strings.Contains(told[0].Detail, "left out by the map manager, so on no map: read over a vault") {
		t.Errorf("%+v", told)
	}
	if len(in.Rows) != 3 || !slices.Equal(o.LeaveOut, []LeftOut{{3, "read over a vault"}}) {
		t.Errorf("%v %v", in.Rows, o.LeaveOut)
	}
	if o, err = FromTable(table("depth", "38", "41 in"), leaving(LeftOut{2, "no unit"}), "w", TableFormat{}); err != nil || len(o.Features) != 1 {
		t.Errorf("%v %v", err, o.Features)
	}
}

func TestLeaveOutRefuses(t *testing.T) {
	in := table("depth", "41 in", "40 in")
	geo := leaving(LeftOut{2, "x"})
	geo.File = "water.geojson"
	for name, c := range map[string]struct {
		m    Meta
		says string
	}{
		"not in the file": {leaving(LeftOut{2, "x"}, LeftOut{40, "x"}), "line 40 is no row of the file, whose rows begin on line 2 and end on line 3"},
		"the header":      {leaving(LeftOut{1, "x"}), "line 1 is no row of the file"},
		"no line":         {leaving(LeftOut{0, "x"}), "line = 0 is no line"},
		"no reason":       {leaving(LeftOut{2, " "}), "line 2 has no reason"},
		"a long reason":   {leaving(LeftOut{2, strings.Repeat("x", 201)}), "longer than 200 characters"},
		"twice":           {leaving(LeftOut{2, "x"}, LeftOut{2, "y"}), "line 2 is named twice"},
		"every row":       {leaving(LeftOut{2, "x"}, LeftOut{3, "x"}), "names every row"},
		"another format":  {geo, `"water.geojson" is none: take the features out of the file itself`},
	} {
		if _, err := FromTable(in, c.m, "w", TableFormat{}); err == nil || !strings.Contains(err.Error(), c.says) || !strings.Contains(err.Error(), c.m.File) {
			t.Errorf("%s: %v", name, err)
		}
	}
	if _, err := Read([]byte(`{"type":"FeatureCollection","features":[]}`), geo, "w"); err == nil {
		t.Error("rows of a GeoJSON were left out without a word")
	}
}

func TestLeftOutText(t *testing.T) {
	if got := LeftOutText("Valve readings", []LeftOut{{18, "read twice"}, {22, "no unit"}}); got != "2 rows of Valve readings were left out by the map manager and are on no map: line 18: read twice; line 22: no unit" {
		t.Error(got)
	}
	var many []LeftOut
	for i := range 13 {
		many = append(many, LeftOut{i + 2, "x"})
	}
	if got := LeftOutText("W", many); !strings.HasSuffix(got, "line 11: x; and 3 more") || LeftOutText("W", nil) != "" {
		t.Error(got)
	}
}
