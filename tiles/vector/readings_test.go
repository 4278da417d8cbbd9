package vector

import (
	"math"
	"strings"
	"testing"

	units "groundsheet/tiles/measure"
)

func sheet(text string, p Positions) (Sheet, error) {
	return ReadSheet(File{Name: "a.csv", Data: []byte(text)}, p)
}

func TestSheetPlaces(t *testing.T) {
	// PROJ: UTM 13N 500000, 4427757.22 is 40 N, 105 W (central meridian).
	for name, c := range map[string]struct {
		in string
		p  Positions
	}{
		"degrees":        {"lat,lon\n40.0000000,-105.0000000\n", Positions{}},
		"named columns":  {"A,B\n40,-105\n", Positions{Latitude: "A", Longitude: "b"}},
		"utm":            {"Easting;Northing\n500000;4427757.2188\n", Positions{UTM: "13N"}},
		"zone in column": {"Easting,Northing,Zone\n500000,4427757.2188,13 N\n", Positions{}},
		"survey feet":    {"Easting (ft),Northing (ft)\n1640416.6667,14526733.4754\n", Positions{UTM: "13N", Unit: units.SurveyFoot}},
	} {
		s, err := sheet(c.in, c.p)
		if err != nil || len(s.Rows) != 1 || s.Rows[0].Fault != "" {
			t.Errorf("%s: %v %+v", name, err, s.Rows)
			continue
		}
		if p := s.Rows[0].Point; math.Abs(p[0]+105) > 1e-7 || math.Abs(p[1]-40) > 1e-7 {
			t.Errorf("%s: %v", name, p)
		}
	}
}

// The southern half counts from 10,000,000 m: the mirror of the northern one.
func TestSheetSouth(t *testing.T) {
	s, err := sheet("easting,northing\n500000,5572242.7812\n", Positions{UTM: "55S"})
	if err != nil || s.Rows[0].Fault != "" {
		t.Fatal(err, s.Rows)
	}
	if p := s.Rows[0].Point; math.Abs(p[0]-147) > 1e-7 || math.Abs(p[1]+40) > 1e-7 {
		t.Errorf("%v", p)
	}
}

func BenchmarkSheet(b *testing.B) { // 100,000 readings
	text := []byte("lat,lon,depth (in),line\n" + strings.Repeat("40.1234567,-105.1234567,41,W1\n", 100_000))
	for b.Loop() {
		if _, err := ReadSheet(File{Name: "a.csv", Data: text}, Positions{}); err != nil {
			b.Fatal(err)
		}
	}
}

func TestSheetRefuses(t *testing.T) {
	for name, c := range map[string]struct {
		in, says string
		p        Positions
	}{
		"no zone":     {"easting,northing\n1,2\n", "utm_zone", Positions{}},
		"which foot":  {"Easting (ft),Northing (ft)\n1,2\n", "coordinates_in", Positions{UTM: "13N"}},
		"no place":    {"depth\n1\n", "no columns for a place", Positions{}},
		"wrong name":  {"lat,lon\n1,2\n", `no column "y"`, Positions{Latitude: "y"}},
		"two of them": {"lat,latitude,lon\n1,2,3\n", "more than one", Positions{}},
	} {
		_, err := sheet(c.in, c.p)
		if err == nil || !strings.Contains(err.Error(), c.says) {
			t.Errorf("%s: %v", name, err)
		}
	}
}

// A bad row keeps its line and says why; the others are read.
func TestSheetRows(t *testing.T) {
	s, err := sheet("lat,lon,note\n40.1234567,-105.12,a\n-105,40,b\n40,x,c\n\n40,-105\n", Positions{})
	if err != nil {
		t.Fatal(err)
	}
	if s.Rows[0].Fault != "" || s.Rows[0].Decimals != 2 {
		t.Errorf("%+v", s.Rows[0])
	}
	for i, says := range map[int]string{1: "swapped", 2: "not a longitude", 3: "fields"} {
		if !strings.Contains(s.Rows[i].Fault, says) {
			t.Errorf("row %d: %q", i, s.Rows[i].Fault)
		}
	}
	if s.Rows[3].Line != 6 {
		t.Errorf("line %d, want 6", s.Rows[3].Line)
	}
	s, err = sheet("easting,northing\n1640416,14526733\n", Positions{UTM: "13N"})
	if err != nil || !strings.Contains(s.Rows[0].Fault, "are they feet") {
		t.Errorf("%v %+v", err, s.Rows)
	}
}

// Every row of a sheet has a place within the world, or says why not.
func FuzzSheet(f *testing.F) {
	f.Add([]byte("lat,lon,depth\n40,-105,3ft\n"), "13N", 1.0)
	f.Add([]byte("easting,northing\n500000,4427757\n"), "13N", 0.3048)
	f.Fuzz(func(t *testing.T, data []byte, zone string, unit float64) {
		s, err := ReadSheet(File{Name: "a.csv", Data: data}, Positions{UTM: zone, Unit: unit})
		if err != nil {
			return
		}
		for _, r := range s.Rows {
			if r.Fault == "" && !(math.Abs(r.Point[0]) <= 180 && math.Abs(r.Point[1]) <= 90) {
				t.Fatalf("line %d is at %v", r.Line, r.Point)
			}
		}
	})
}
