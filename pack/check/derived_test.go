package check

import (
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/paulmach/orb"

	"groundsheet/pack"
	"groundsheet/pack/record"
	"groundsheet/pack/record/derive"
	"groundsheet/tiles"
	"groundsheet/tiles/geojson"
	"groundsheet/tiles/measure"
	"groundsheet/tiles/sqlite"
)

// site is a place in the tiles of the pack: parts of the box of one of them.
func site(x, y float64) orb.Point {
	b := tiles.ID{Z: 11, X: 10, Y: 10}.Bounds()
	return orb.Point{b.West + x*(b.East-b.West), b.South + y*(b.North-b.South)}
}

func recorded(t *testing.T, m record.Meta, id string, features ...geojson.Feature) record.Overlay {
	t.Helper()
	o, err := record.New(features, m, id)
	if err != nil {
		t.Fatal(err)
	}
	return o
}

func line(properties map[string]any, points ...orb.Point) geojson.Feature {
	return geojson.Feature{Geometry: orb.LineString(points), Properties: properties, Place: "feature 1"}
}

// knownPack packs three records and what is worked out of them.
func knownPack(t *testing.T, a pack.About) string {
	t.Helper()
	exact := measure.Distance(0.5)
	overlays := []record.Overlay{
		recorded(t, record.Meta{File: "w.geojson", Title: "Water", Utility: "water", QualityLevel: "D", Recorded: "1998", Datum: "NAD83(2011)"}, "1-water",
			line(map[string]any{}, site(0.1, 0.5), site(0.9, 0.5))),
		recorded(t, record.Meta{File: "g.geojson", Title: "Gas", Utility: "gas", QualityLevel: "C", Recorded: "2024-05", Accuracy: &exact, Datum: "WGS 84"}, "2-gas",
			line(map[string]any{"size": "2 in", "depth_m": 0.8}, site(0.5, 0.2), site(0.5, 5))),
		recorded(t, record.Meta{File: "s.geojson", Title: "Sewer", Utility: "sewer", QualityLevel: "C", Recorded: "2024-05-01", Accuracy: &exact}, "3-sewer",
			line(map[string]any{"date": "1971-02-03"}, site(0.45, 0.1), site(0.45, 0.35))),
	}
	dig := orb.MultiPolygon{{{site(0.4, 0.4), site(0.6, 0.4), site(0.6, 0.6), site(0.4, 0.6), site(0.4, 0.4)}}}
	return packOf(t, a, overlays, dig, record.Finding{Kind: "row", Severity: record.Fault, Where: "r.csv", Line: 3, Detail: "no depth"},
		record.Finding{Kind: "left out", Severity: record.Warning, Where: "r.csv", Line: 4, Detail: "over a vault"},
		record.Finding{Kind: "quality level", Severity: record.Warning, Where: "r.csv", Detail: "good"},
		record.Finding{Kind: "<b>", Severity: record.Note, Where: "r.csv", Detail: "of another program"})
}

// packOf packs records and what is worked out of them, and more findings.
func packOf(t *testing.T, a pack.About, overlays []record.Overlay, dig orb.MultiPolygon, more ...record.Finding) string {
	t.Helper()
	k := derive.From(overlays, dig, derive.Options{EachSide: 0.6, Uncertainty: true})
	k.Findings = append(k.Findings, more...)
	path := filepath.Join(t.TempDir(), "k.mbtiles")
	box, _ := deep.Bounds()
	h := whole(t)
	packed, err := pack.Overlays(overlays, box)
	if err != nil {
		t.Fatal(err)
	}
	c := pack.Content{About: a, Bounds: box, Covers: []tiles.Cover{shallow, deep}, Area: []byte(`{}`), Overlays: packed, Derived: &k, Tiles: h}
	if _, err := pack.Write(t.Context(), path, c, pack.WriteOptions{}); err != nil {
		t.Fatal(err)
	}
	return path
}

func TestKnown(t *testing.T) {
	a := about()
	a.Records.OlderThanS = 10 * 365.25 * 86400
	r := verdict(t, knownPack(t, a), Options{Now: func() time.Time { return time.Date(2026, 2, 1, 0, 0, 0, 0, time.UTC) }})
	for _, c := range []struct{ kind, severity, says string }{
		{"old record", Warning, `"Water" was recorded 1998; the job asks for records of the last 10 y`},
		{"old record", Warning, "recorded of sewer is of 1971-02-03"},
		{"not stated", Warning, `1 of 1 feature of overlay "Water" states no accuracy`},
		{"datum", Warning, "NAD83(2011)"},
		{"datum", Note, "s.geojson: the datum is not stated"},
		{"entry", Note, "water line 1-water/1: enters the dig area, over"},
		{"entry", Note, "gas line 2-gas/1: enters the dig area"},
		{"crossing", Note, "1 of 1 crossing of recorded lines: vertical relation unknown; 1 of these lies in the dig area"},
		{"no size", Note, "2 of 3 lines"},
		{"leaves", Note, `1 of 1 line of overlay "Gas"`},
		{"row", Fault, "r.csv, line 3: no depth"},
		{"left out", Warning, "r.csv, line 4: over a vault"},
		{"quality level", Warning, "r.csv: good"},
		{"record", Note, "of another program"},
	} {
		if !has(r, c.kind, c.severity, c.says) {
			t.Errorf("%s %s %q is not told", c.severity, c.kind, c.says)
		}
		if kinds[c.kind] == "" {
			t.Errorf("the kind %q is not explained", c.kind)
		}
	}
	if has(r, "leaves", Note, "Water") || has(r, "entry", Note, "sewer") || has(r, "old record", Warning, "gas") || r.Verdict != NotFit {
		t.Errorf("%+v", r)
	}
	for _, f := range r.Findings {
		switch at := f.Bounds; f.Kind {
		case "entry", "crossing", "leaves":
			if at == nil || at.West > at.East || at.South > at.North || f.Kind == "crossing" && at.West != at.East {
				t.Errorf("%s: %q has the place %v", f.Kind, f.Detail, at)
			}
		case "row", "no size": // of a file that is not packed, and of the whole pack
			if at != nil {
				t.Errorf("%s: %q has the place %v", f.Kind, f.Detail, *at)
			}
		}
	}
	if lax := verdict(t, knownPack(t, about()), Options{}); lax.Counts["old record"] != 0 {
		t.Error("a record is too old though the job states no limit")
	}
}

// TestKnownIsUntrusted spoils what is known in a good pack: check says so and
// does not fail.
func TestKnownIsUntrusted(t *testing.T) {
	good, err := os.ReadFile(knownPack(t, about()))
	if err != nil {
		t.Fatal(err)
	}
	for name, c := range map[string]struct{ query, kind, says string }{
		"gone":     {`DROP TABLE groundsheet_known`, "missing", "known features"},
		"emptied":  {`DELETE FROM groundsheet_known`, "missing", "known known"},
		"one part": {`DELETE FROM groundsheet_known WHERE part='features'`, "damaged", "is missing"},
		"no JSON":  {`UPDATE groundsheet_known SET body='x' WHERE part='known'`, "damaged", "cannot be read"},
		"changed":  {`UPDATE groundsheet_known SET body=replace(body,'enters the dig area','far from it')`, "changed", "known features"},
		"a blob":   {`UPDATE groundsheet_known SET body=zeroblob(70000000) WHERE part='known'`, "damaged", ""},
	} {
		t.Run(name, func(t *testing.T) {
			path := filepath.Join(t.TempDir(), "k.mbtiles")
			if err := os.WriteFile(path, good, 0o600); err != nil {
				t.Fatal(err)
			}
			db := sqlite.Open(path, sqlite.Options{Settings: "mode=rw"})
			_, err := db.ExecContext(t.Context(), c.query)
			if closed := db.Close(); err != nil || closed != nil {
				t.Fatal(err, closed)
			}
			r := verdict(t, path, Options{})
			if r.Verdict != NotFit || !has(r, c.kind, Fault, c.says) {
				t.Errorf("%+v", r)
			}
		})
	}
}

func TestLeaves(t *testing.T) {
	for _, c := range []struct {
		name string
		path orb.LineString
		want bool
	}{
		{"within", orb.LineString{site(0.1, 0.1), site(0.9, 0.9)}, false},
		{"into the next tile that is there", orb.LineString{site(0.1, 0.1), site(1.9, 0.9)}, false},
		{"out", orb.LineString{site(0.1, 0.1), site(0.1, 1.1)}, true},
		{"across a corner that is not there", orb.LineString{site(0.9, -0.9), site(1.9, 0.1)}, true},
		{"one position", orb.LineString{site(0.5, 0.5)}, false},
	} {
		if got := leaves(c.path, deep); got != c.want {
			t.Errorf("%s: %v", c.name, got)
		}
	}
}

// TestStates: what is not in service is counted, named where it enters, and a
// proposed line leaves a notified utility without a record here.
func TestStates(t *testing.T) {
	of := func(north float64, status string) geojson.Feature {
		return line(map[string]any{"status": status, "label": status}, site(0.1, north), site(0.9, north))
	}
	overlays := []record.Overlay{
		recorded(t, record.Meta{File: "w.geojson", Title: "Water", Utility: "water"}, "1-water", of(0.5, "AIP"), of(0.55, "removed"), of(0.45, "live")),
		recorded(t, record.Meta{File: "g.geojson", Title: "Gas", Utility: "gas"}, "2-gas", line(map[string]any{"status": "design", "label": "G"}, site(0.5, 0.2), site(0.5, 0.8))),
	}
	dig := orb.MultiPolygon{{{site(0.4, 0.4), site(0.6, 0.4), site(0.6, 0.6), site(0.4, 0.6), site(0.4, 0.4)}}}
	if missing, nothing := pack.Gaps([]string{"water", "gas"}, overlays, dig, 10); !slices.Equal(missing, []string{"gas"}) || !slices.Equal(nothing, []string{"gas"}) {
		t.Errorf("missing %v, nothing here of %v", missing, nothing)
	}
	r := verdict(t, packOf(t, about(), overlays, dig), Options{})
	for _, c := range []struct{ kind, severity, says string }{
		{"state", Note, "State of 4 lines in the records: 1 abandoned, 1 proposed, 1 in service and 1 not understood."},
		{"state", Warning, `w.geojson: 1 feature states the state "removed", which is not understood`},
		{"entry", Note, `water line 1-water/1 ("AIP"), abandoned: enters the dig area`},
		{"entry", Note, `water line 1-water/3 ("live"): enters the dig area`},
		{"entry", Note, `gas line 2-gas/1 ("G"), proposed: enters the dig area`},
		{"crossing", Note, "3 of 3 crossings of recorded lines are with a proposed line, not built as far as the record tells"},
	} {
		if !slices.ContainsFunc(r.Findings, func(f Finding) bool {
			return f.Kind == c.kind && f.Severity == c.severity && strings.Contains(f.Detail, c.says)
		}) {
			t.Errorf("no %s %s: %s", c.severity, c.kind, c.says)
		}
	}
	plain := verdict(t, packOf(t, about(), []record.Overlay{recorded(t, record.Meta{File: "w.geojson", Utility: "water"}, "1-water", of(0.5, "live"))}, dig), Options{})
	if slices.ContainsFunc(plain.Findings, func(f Finding) bool { return f.Kind == "state" }) {
		t.Error("states are counted where all are in service")
	}
}

// What each feature states needs no statement of the record as a whole.
func TestEachStatesItself(t *testing.T) {
	own := map[string]any{"quality_level": "B", "date": "2026-11-30T00:03:08Z", "accuracy_m": 0.03}
	of := func(second map[string]any) (said string) {
		o := recorded(t, record.Meta{File: "f.geojson", Title: "Found", Utility: "water"}, "1-found",
			line(own, site(0.1, 0.5), site(0.9, 0.5)), line(second, site(0.1, 0.4), site(0.9, 0.4)))
		r, err := Run(t.Context(), packOf(t, about(), []record.Overlay{o}, nil), Options{})
		if err != nil {
			t.Fatal(err)
		}
		for _, f := range r.Findings {
			if f.Kind == "not stated" {
				said += f.Detail + "\n"
			}
		}
		return said
	}
	if said := of(own); strings.Contains(said, `"Found"`) {
		t.Error(said)
	}
	said := of(map[string]any{"accuracy_m": 0.03})
	for _, want := range []string{`1 of 2 features of overlay "Found" states no quality level`, `1 of 2 features of overlay "Found" states no date`} {
		if !strings.Contains(said, want) {
			t.Error(want, said)
		}
	}
}
