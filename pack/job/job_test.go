package job

import (
	"errors"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"groundsheet/pack/record/derive"

	"groundsheet/pack"
	"groundsheet/pack/record"
	"groundsheet/tiles"
	"groundsheet/tiles/geojson"
)

const goodJob = `
name = "Cutbank lift station"
number = "24-117"
area = ["dig-area.geojson"]
margin = "50ft"
units = "us"
fit_in = "2GB"
expected = ["gas", "water"]

[[base]]
source = "county-ortho"
zooms = [14, 21]

[tolerance]
each_side = "24in"
rule = "named by the operator"

[ticket]
number = "T-1"
valid_until = 2026-12-20

[[overlay]]
file = "overlays/water-1998.geojson"
utility = "water"
quality_level = "D"
recorded = 1998-05-01
accuracy = "± 2ft"
`

func TestParseJob(t *testing.T) {
	j, err := Parse([]byte(goodJob), "site")
	if err != nil {
		t.Fatal(err)
	}
	o := j.Overlays[0]
	if j.Name != "Cutbank lift station" || j.Margin.Meters() != 15.24 || j.FitIn != 2e9 || j.Bases[0].Zooms != (tiles.Zooms{Min: 14, Max: 21}) ||
		j.Ticket.ValidUntil != "2026-12-20" || j.Tolerance.EachSide.FeetInches() != "2′ 0″" || o.Recorded != "1998-05-01" || o.Accuracy.FeetInches() != "2′ 0″" {
		t.Errorf("%+v", j)
	}
	if got := (pack.Tolerance{EachSide: 0.6096, Stated: "24in"}).Text("metric"); got != "24 in" || j.Tolerance.Stated == "" {
		t.Errorf("the rule as stated: %q, %+v", got, j.Tolerance)
	}
	held := []record.Overlay{{Kind: record.Utility{Code: o.Utility}, Features: []geojson.Feature{{}}}}
	if missing, _ := pack.Gaps(j.Expected, held, nil, 0); len(missing) != 1 || missing[0] != "gas" {
		t.Errorf("notified without an overlay: %v", missing)
	}
	if got := filepath.ToSlash(j.PackPath(0)); got != "site/out/cutbank-lift-station.mbtiles" {
		t.Errorf("pack path %q", got)
	}
}

func TestParseJobRefuses(t *testing.T) {
	cases := map[string]struct{ from, to, says string }{
		"unknown key":      {`number = "24-117"`, `numbr = "24-117"`, `line 3: the key "numbr" is not known`},
		"rule of one":      {"[ticket]", "[[rule]]\nbetween = [\"gas\"]\nvertical = \"1ft\"\nby = \"a\"\n[ticket]", "[[rule]] number 1: between wants two"},
		"rule of none":     {"[ticket]", "[[rule]]\nbetween = [\"gas\", \"power\"]\nvertical = \"1ft\"\nby = \"a\"\n[ticket]", "[[rule]] number 1: between: utility"},
		"rule, no source":  {"[ticket]", "[[rule]]\nbetween = [\"gas\", \"any\"]\nvertical = \"1ft\"\n[ticket]", "where it comes from"},
		"rule, no unit":    {"[ticket]", "[[rule]]\nbetween = [\"gas\", \"any\"]\nvertical = 12\nby = \"a\"\n[ticket]", "has no unit: write "},
		"rule, bad unit":   {"[ticket]", "[[rule]]\nbetween = [\"gas\", \"any\"]\nvertical = \"12mi\"\nby = \"a\"\n[ticket]", "is the unit right"},
		"unknown table":    {`[tolerance]`, `[zone]`, "zone"},
		"no name":          {`name = "Cutbank lift station"`, `name = " "`, "name is empty"},
		"no area":          {`area = ["dig-area.geojson"]`, ``, "no area"},
		"margin, no unit":  {`margin = "50ft"`, `margin = "50"`, "has no unit: write "},
		"margin as number": {`margin = "50ft"`, `margin = 50`, "has no unit: write "},
		"age, no unit":     {`margin = "50ft"`, `records_older_than = "10"`, "has no unit: write "},
		"age as number":    {`margin = "50ft"`, `records_older_than = 10`, "has no unit: write "},
		"huge gap":         {`margin = "50ft"`, `depth_gap = "1mi"`, "is the unit right"},
		"steep":            {`margin = "50ft"`, `depth_slope = -1`, "rise over run"},
		"huge margin":      {`margin = "50ft"`, `margin = "50mi"`, "is the unit right"},
		"units":            {`units = "us"`, `units = "feet"`, `write "us" or "metric"`},
		"reversed zooms":   {`zooms = [14, 21]`, `zooms = [21, 14]`, "reversed"},
		"too deep":         {`zooms = [14, 21]`, `zooms = [14, 25]`, "deepest zoom is 24"},
		"one zoom":         {`zooms = [14, 21]`, `zooms = [14]`, "two numbers"},
		"utility":          {`utility = "water"`, `utility = "telecom"`, "APWA"},
		"expected":         {`expected = ["gas", "water"]`, `expected = ["gaz"]`, "APWA"},
		"date":             {`recorded = 1998-05-01`, `recorded = "May 1998"`, "no date"},
		"day":              {`valid_until = 2026-12-20`, `valid_until = "20 Dec"`, "YYYY-MM-DD"},
		"not TOML":         {`name = "Cutbank lift station"`, `name = `, "line 2"},
		"no base":          {"[[base]]\nsource = \"county-ortho\"\nzooms = [14, 21]", "", "no base map"},
	}
	for name, c := range cases {
		t.Run(name, func(t *testing.T) {
			if !strings.Contains(goodJob, c.from) {
				t.Fatal("the case does not fit the job")
			}
			_, err := Parse([]byte(strings.Replace(goodJob, c.from, c.to, 1)), "site")
			if !errors.Is(err, Invalid) || !strings.Contains(err.Error(), c.says) || !strings.Contains(err.Error(), "job.toml") {
				t.Errorf("%v", err)
			}
		})
	}
}

// TestNewReadsBack: what New writes is the job that was asked for, whatever
// the texts hold.
func TestNewReadsBack(t *testing.T) {
	dir := filepath.Join(t.TempDir(), "site")
	area := filepath.Join(t.TempDir(), "a.geojson")
	if err := os.WriteFile(area, []byte(`{"type":"Polygon","coordinates":[[[-105,40],[-104.999,40],[-104.999,40.001],[-105,40]]]}`), 0o644); err != nil {
		t.Fatal(err)
	}
	d := Job{
		Name: "A \"quoted\"\nname\\ 'with' #all\t", Number: "1", Area: []string{area, area}, Around: []Around{{40.0005, -105, 30}},
		Margin: 15.24, Units: "metric", FitIn: 5e8, Bases: []Base{{Source: "s", Zooms: tiles.Zooms{Min: 14, Max: 20}}}, Invented: true, OneCall: "811",
		Ticket: &pack.Ticket{Number: "T", ValidUntil: "2031-01-02"},
	}
	if _, err := New(dir, d); err != nil {
		t.Fatal(err)
	}
	j, err := Read(dir)
	if err != nil {
		t.Fatal(err)
	}
	if j.Name != d.Name || j.Margin != d.Margin || j.FitIn != d.FitIn || len(j.Area) != 2 || j.Around[0] != d.Around[0] ||
		*j.Ticket != *d.Ticket || !j.Invented || j.OneCall != "811" || j.Bases[0].Zooms != d.Bases[0].Zooms {
		t.Errorf("%+v", j)
	}
	if _, _, err := j.ReadArea(); err != nil {
		t.Error(err)
	}
	if _, err := New(dir, d); err == nil {
		t.Error("a job was written over")
	}
}

func FuzzParseJob(f *testing.F) {
	f.Add([]byte(goodJob))
	f.Add([]byte("name = 1"))
	f.Fuzz(func(t *testing.T, data []byte) {
		j, err := Parse(data, "site")
		if err == nil && (j.Name == "" || len(j.Bases) == 0) {
			t.Fatalf("%+v", j)
		}
	})
}

// TestRulesOfAJob: a rule keeps its words, so that 12 in are not told as 30 cm.
func TestRulesOfAJob(t *testing.T) {
	j, err := Parse([]byte(goodJob+"[[rule]]\nbetween = [\"gas\", \"any\"]\nvertical = \"12in\"\nby = \"sheet 4\"\n[[rule]]\nbetween = [\"gas\", \"gas\"]\nhorizontal = \"1 ft\"\nby = \"sheet 5\"\n"), "site")
	if err != nil {
		t.Fatal(err)
	}
	r := j.ComputeOptions(time.Time{}).Rules
	if len(r) != 2 || r[0].Between != [2]string{"gas", "any"} || *r[0].Vertical != (derive.MinClearance{M: 0.3048, Stated: "12 in"}) || r[0].Horizontal != nil || r[1].Vertical != nil || r[1].Horizontal.Stated != "1 ft" || r[1].By != "sheet 5" {
		t.Errorf("%+v", r)
	}
}
