package office

import (
	"fmt"
	"os"
	"path/filepath"
	"runtime"
	"slices"
	"strings"
	"testing"
	"time"

	"groundsheet/pack"
	"groundsheet/pack/job"
	"groundsheet/pack/plan"
	"groundsheet/pack/record"
	"groundsheet/pack/record/derive"
	"groundsheet/tiles"
	"groundsheet/tiles/measure"
)

func put(t testing.TB, j *job.Job, name, text string, m record.Meta) {
	t.Helper()
	if err := os.WriteFile(filepath.Join(j.Dir, name), []byte(text), 0o600); err != nil {
		t.Fatal(err)
	}
	m.File = name
	j.Overlays = append(j.Overlays, m)
}

// TestKnownTravels: what is worked out of a job's files is in its pack, and a
// setting of the job that changes it writes the pack anew.
func TestKnownTravels(t *testing.T) {
	o, _ := bench(t)
	put(t, &o.Job, "readings.csv", "latitude,longitude,line,depth (ft-in),depth_of\n40.50000000,-140.50010000,W,3-5,top\n40.50000000,-140.49995000,W,3-4,top\n",
		record.Meta{Utility: "water", QualityLevel: "D", Recorded: "2026-11-18"})
	put(t, &o.Job, "gas.geojson", `{"type":"Feature","properties":{"size":"2 in","depth":"20in","depth_of":"top"},"geometry":{"type":"LineString","coordinates":[[-140.5,40.4999],[-140.5,40.5001]]}}`,
		record.Meta{Utility: "gas", QualityLevel: "C", Recorded: "2011"})
	o.Job.Tolerance = &pack.Tolerance{EachSide: measure.Distance(24 * measure.Inch)}
	start := time.Now()
	r := run(t, o, start)
	p, err := pack.Open(t.Context(), r.File)
	if err != nil {
		t.Fatal(err)
	}
	k, err := p.Derived(t.Context())
	features, err2 := p.DerivedFeatures(t.Context())
	if closed := p.Close(); err != nil || err2 != nil || closed != nil || !p.Info.Derived {
		t.Fatal(err, err2, closed)
	}
	if len(k.Lines) != 2 || len(k.Zones) != 2 || len(k.Crossings) != 1 || !k.Crossings[0].InArea || len(k.Entries) != 2 || !strings.Contains(string(features), `"part":"crossing"`) {
		t.Fatalf("%+v", k)
	}
	// 40.33 in of water (two thirds of the way from 41 in to 40 in) over 20 in of gas.
	if m := k.Crossings[0].SeparationM; m == nil || *m < 20.2*measure.Inch || *m > 20.5*measure.Inch {
		t.Errorf("separation %+v", k.Crossings[0])
	}
	if again := run(t, o, start); again.Rewritten {
		t.Error("the same knowledge wrote the pack anew")
	}
	o.Job.DepthGap = 5 // meters: less than between the readings
	if changed := run(t, o, start); !changed.Rewritten {
		t.Error("another depth_gap left the pack as it was")
	}
}

// TestEmptyRecordIsNoRecord: a gas file without features, and one far away,
// leave gas among what is expected and not recorded.
func TestEmptyRecordIsNoRecord(t *testing.T) {
	for name, file := range map[string]string{
		"no features": `{"type":"FeatureCollection","features":[]}`,
		"far away":    `{"type":"Feature","properties":{},"geometry":{"type":"LineString","coordinates":[[-140.5,40.51],[-140.501,40.51]]}}`,
	} {
		o, _ := bench(t)
		o.Job.Expected = []string{"gas", "water"}
		put(t, &o.Job, "gas.geojson", file, record.Meta{Utility: "gas"})
		r, err := o.base(t, time.Now()).pack(t.Context())
		if err != nil {
			t.Fatal(err)
		}
		p, err := pack.Open(t.Context(), r.File)
		if err != nil {
			t.Fatal(err)
		}
		a := p.Info.About
		if err := p.Close(); err != nil || !slices.Equal(a.ExpectedMissing, []string{"gas", "water"}) || !slices.Equal(a.NothingHere, []string{"gas"}) {
			t.Errorf("%s: %v, missing %v, nothing here %v", name, err, a.ExpectedMissing, a.NothingHere)
		}
	}
}

// BenchmarkKnown is a large job: 100,000 readings of 2,000 lines in a table,
// and 2,000 recorded lines that cross them. It imports, computes and packs.
func BenchmarkKnown(b *testing.B) {
	o, _ := bench(b)
	o.Job.Bases[0].Zooms = tiles.Zooms{Min: 14, Max: 16}
	o.Job.Around[0].Radius = 500
	o.Job.Tolerance = &pack.Tolerance{EachSide: measure.Distance(24 * measure.Inch)}
	var table, lines strings.Builder
	table.WriteString("latitude,longitude,line,depth (ft-in),accuracy (in)\n")
	for l := range 2000 { // 200 rows of 10 lines of 75 m, read every 5 ft with 2 cm of scatter
		lat, lon := 40.4955+float64(l/10)*0.000045, -140.5045+float64(l%10)*0.0009
		for i := range 50 {
			fmt.Fprintf(&table, "%.8f,%.8f,L%d,%d-%d,2\n", lat+float64(i*7%5-2)*1e-7, lon+float64(i)*1.8e-5, l, 3+i/25, i%12)
		}
		sep := ","
		if l == 0 {
			sep = ""
		}
		fmt.Fprintf(&lines, `%s{"type":"Feature","properties":{"size":"4 in"},"geometry":{"type":"LineString","coordinates":[[%.8f,%.8f],[%.8f,%.8f],[%.8f,%.8f]]}}`, sep, lon+3e-5, lat-2e-5, lon+3.1e-5, lat, lon+3e-5, lat+2e-4)
	}
	put(b, &o.Job, "readings.csv", table.String(), record.Meta{Utility: "water", QualityLevel: "D", Recorded: "2026-11-18"})
	put(b, &o.Job, "lines.geojson", `{"type":"FeatureCollection","features":[`+lines.String()+`]}`, record.Meta{Utility: "gas", QualityLevel: "C", Recorded: "2011"})
	for b.Loop() {
		if err := os.RemoveAll(filepath.Join(o.Job.Dir, "out")); err != nil {
			b.Fatal(err)
		}
		now := time.Now()
		in, err := o.Job.ReadInputs()
		if err != nil {
			b.Fatal(err)
		}
		p, err := plan.New(b.Context(), plan.Options{Inputs: in, Source: o.Source, Shelf: o.Shelf})
		if err != nil {
			b.Fatal(err)
		}
		b.ReportMetric(time.Since(now).Seconds(), "s/import")
		r, err := base{plan: p, shelf: o.Shelf, derived: func() derive.Result { return derived(in, now) }}.pack(b.Context())
		if err != nil {
			b.Fatal(err)
		}
		b.ReportMetric(float64(r.Bytes)/1e6, "MB/pack")
		b.ReportMetric(time.Since(now).Seconds(), "s/job")
	}
	var m runtime.MemStats
	runtime.ReadMemStats(&m)
	b.ReportMetric(float64(m.Sys)/1e6, "MB/memory")
}
