package shapefile_test

import (
	"math"
	"strings"
	"testing"
	"time"

	"github.com/paulmach/orb"

	"groundsheet/tiles/shapefile"
)

var day = time.Date(2026, 11, 29, 0, 0, 0, 0, time.UTC)

func TestRefuses(t *testing.T) {
	text, number := []shapefile.Field{{Name: "note"}}, []shapefile.Field{{Name: "depth_m", Number: true}}
	for name, s := range map[string]shapefile.Set{
		"no field":         {Kind: shapefile.Points},
		"a long name":      {Fields: []shapefile.Field{{Name: "quality_level"}}},
		"a name twice":     {Fields: []shapefile.Field{{Name: "a"}, {Name: "A"}}},
		"values missing":   {Fields: text, Rows: []shapefile.Row{{}}},
		"another kind":     {Kind: shapefile.Points, Fields: text, Rows: []shapefile.Row{{Geometry: orb.MultiLineString{}, Values: []any{""}}}},
		"no number":        {Fields: number, Rows: []shapefile.Row{{Values: []any{math.NaN()}}}},
		"a text as number": {Fields: number, Rows: []shapefile.Row{{Values: []any{"1"}}}},
		"too large":        {Fields: number, Rows: []shapefile.Row{{Values: []any{1e40}}}},
		"something else":   {Fields: text, Rows: []shapefile.Row{{Values: []any{true}}}},
	} {
		s.Date = day
		if _, _, err := s.Write(); err == nil {
			t.Errorf("%s: written", name)
		}
	}
}

// TestLongTextsAreCutAtACharacter: and told.
func TestLongTextsAreCutAtACharacter(t *testing.T) {
	for _, text := range []string{strings.Repeat("a", 255), strings.Repeat("é", 200), strings.Repeat("水", 90)} {
		s := shapefile.Set{Fields: []shapefile.Field{{Name: "note"}}, Rows: []shapefile.Row{{Values: []any{text}}}, Date: day}
		files, cut, err := s.Write()
		if err != nil || len(cut) != 1 || cut[0].Bytes != len(text) {
			t.Fatal(cut, err)
		}
		row := strings.TrimRight(string(files[".dbf"][32+32+1+1:]), " \x1a")
		if !strings.HasSuffix(row, "…") || !strings.HasPrefix(text, strings.TrimSuffix(row, "…")) || len(row) > shapefile.MostText || len(row) < 250 {
			t.Errorf("%d bytes: %q", len(row), row)
		}
	}
}

func FuzzTable(f *testing.F) {
	f.Add("plain", 1.5)
	f.Add("\x00\xff\r\n", math.Copysign(0, -1))
	f.Fuzz(func(t *testing.T, text string, v float64) {
		s := shapefile.Set{
			Fields: []shapefile.Field{{Name: "t"}, {Name: "n", Number: true}}, Date: day,
			Rows: []shapefile.Row{{Values: []any{text, v}}, {Values: []any{nil, nil}}},
		}
		files, _, err := s.Write()
		if err != nil {
			return
		}
		if len(files[".dbf"]) < 97+2*3 || strings.ContainsRune(string(files[".dbf"][97:]), 0) {
			t.Errorf("%q", files[".dbf"])
		}
	})
}
