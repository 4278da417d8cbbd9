package record

import (
	"strings"
	"testing"

	"github.com/paulmach/orb"
	"github.com/paulmach/orb/project"

	"groundsheet/tiles/geodesic"
	"groundsheet/tiles/geojson"
)

func TestParseShift(t *testing.T) {
	for text, epoch := range map[string]float64{
		"NAD83(2011) to WGS 84 at 2026.0": 2026, "nad83 (2011) to wgs84 at 2026.85": 2026.85, " NAD_1983_2011 to WGS_84 at 2010 ": 2010, "NAD83(2011) epoch 2010.00 to WGS 84 at 2026": 2026,
	} {
		if s, err := ParseShift(text, "us"); err != nil || s.Epoch != epoch {
			t.Errorf("%q: %+v, %v", text, s, err)
		}
	}
	for text, says := range map[string]string{
		"": "want", "yes": "want", "NAD83(2011)": "want", "NAD83(2011) to WGS 84": "the epoch is missing", "NAD83(2011) to WGS 84 at": `to "WGS 84 at" is not known`, "NAD83(2011) to WGS 84 at today": `"today" is no epoch`,
		"NAD83(2011) to WGS 84 at 1e9": "no epoch", "NAD83(2011) to WGS 84 at NaN": "no epoch", "NAD83(2011) to WGS 84 at 1999.9": "no epoch",
		"NAD83 to WGS 84 at 2026.0": "several realizations", "NAD27 to WGS 84 at 2026.0": `from "NAD27" is not known here, only from NAD83(2011)`, "NAD83(CORS96) to WGS 84 at 2026.0": "is not known here",
		"NAD83(PA11) to WGS 84 at 2026.0": "is not known here", "WGS 84 to NAD83(2011) at 2026.0": "is not known here", "NAD83(2011) to ITRF2008 at 2026.0": "only to WGS 84",
	} {
		if s, err := ParseShift(text, "us"); err == nil || !strings.Contains(err.Error(), says) {
			t.Errorf("%q: %+v, %v", text, s, err)
		}
	}
}

func shifted(t *testing.T, datum, units string) Meta {
	t.Helper()
	s, err := ParseShift("NAD83(2011) to WGS 84 at 2026.0", units)
	if err != nil {
		t.Fatal(err)
	}
	m := water()
	m.Shift, m.Datum = s, datum
	return m
}

// TestShift: PROJ (cct -I, EPSG:8970 at 2026.0) puts the NAD83(2011) numbers
// 40 N 105 W at 40.0000047162 N 105.0000156570 W on WGS 84.
func TestShift(t *testing.T) {
	at, want := orb.Point{-105, 40}, orb.Point{-105.0000156570, 40.0000047162}
	for name, g := range map[string]orb.Geometry{
		"point": at, "points": orb.MultiPoint{at, at}, "line": orb.LineString{at, at}, "lines": orb.MultiLineString{{at, at}},
		"outline": orb.Polygon{{at, at, at, at}}, "outlines": orb.MultiPolygon{{{at, at, at, at}}}, "several": orb.Collection{at, orb.LineString{at, at}},
	} {
		in := []geojson.Feature{{Geometry: g}, {}}
		o, err := New(in, shifted(t, "NAD83(2011)", "us"), "w")
		if err != nil || o.Unlocated != 1 {
			t.Fatal(name, err)
		}
		n := 0
		eachPosition(o.Features[0].Geometry, func(p orb.Point) {
			if n++; geodesic.Distance(p, want) > 0.001 {
				t.Errorf("%s: %v", name, p)
			}
		})
		eachPosition(in[0].Geometry, func(p orb.Point) {
			if p != at {
				t.Errorf("%s: what was given was moved too", name)
			}
		})
		if n == 0 || o.Datum != "WGS 84, shifted from NAD83(2011) at epoch 2026.0 by groundsheet, about 4.39 ft WEST and 20.6 in NORTH" {
			t.Errorf("%s: %d positions, %q", name, n, o.Datum)
		}
	}
	in := table("note", "a")
	o, err := FromTable(in, shifted(t, "", "metric"), "w", TableFormat{})
	if err != nil || geodesic.Distance(o.Features[0].Geometry.(orb.Point), want) > 0.001 || !strings.HasSuffix(o.Datum, "about 1.34 m WEST and 52.4 cm NORTH") {
		t.Errorf("%v %+v", err, o)
	}
	o, err = New(nil, shifted(t, "", "us"), "w")
	if err != nil || o.Datum != "WGS 84, shifted from NAD83(2011) at epoch 2026.0 by groundsheet" {
		t.Errorf("%v %q", err, o.Datum)
	}
}

func TestShiftContradicted(t *testing.T) {
	for datum, fits := range map[string]bool{"": true, "NAD83(2011)": true, "NAD83 (2011) epoch 2010.0": true, "NAD83": true, "WGS 84": false, "NAD27": false, "NAD83(CORS96)": false, "NAD83(HARN)": false, "ITRF2014": false} {
		_, err := New([]geojson.Feature{{Geometry: orb.Point{-105, 40}}}, shifted(t, datum, "us"), "w")
		if (err == nil) != fits || err != nil && !strings.Contains(err.Error(), "take out the one that is wrong") {
			t.Errorf("%q: %v", datum, err)
		}
	}
}

// TestShiftIsTold: by a note where the record states its datum, louder where
// the job's word alone stands for it, and as a fault where the shift is none.
func TestShiftIsTold(t *testing.T) {
	box := func(lon, lat float64) orb.Bound {
		return orb.Bound{Min: orb.Point{lon, lat}, Max: orb.Point{lon + 0.001, lat + 0.001}}
	}
	for datum, c := range map[string]struct {
		severity Severity
		says     string
	}{
		"NAD83(2011)": {Note, "shifted from NAD83(2011) at epoch 2026.0 by groundsheet, about 4.39 ft WEST and 20.6 in NORTH; by the parameters of EPSG:8970"},
		"NAD83":       {Warning, "The record itself states NAD83 alone"},
		"":            {Warning, "The record itself does not state its datum"},
	} {
		o, err := New([]geojson.Feature{{Geometry: orb.MultiPoint{{-105, 40}, {-105, 40}}}}, shifted(t, datum, "us"), "w")
		if err != nil {
			t.Fatal(err)
		}
		kinds := map[string]Finding{}
		for _, f := range CheckSanity(o, box(-105, 40), SanityOptions{}) {
			kinds[f.Kind] = f
		}
		if f := kinds["datum"]; f.Severity != c.severity || !strings.Contains(f.Detail, c.says) {
			t.Errorf("%q: %+v", datum, f)
		}
		if kinds["coarse"].Detail == "" { // as the record wrote them, not as they were shifted
			t.Errorf("%q: coordinates without decimals are not told: %v", datum, kinds)
		}
		if f := datumFindings(o.Meta, orb.Point{-157.8, 21.3}, SanityOptions{}); len(f) != 1 || f[0].Severity != Fault {
			t.Errorf("Hawaii: %+v", f)
		}
	}
}

func eachPosition(g orb.Geometry, visit func(orb.Point)) {
	project.Geometry(orb.Clone(g), func(p orb.Point) orb.Point {
		visit(p)
		return p
	})
}
