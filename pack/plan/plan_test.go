package plan

import (
	"errors"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"groundsheet/pack/job"
	"groundsheet/pack/record"
	"groundsheet/tiles"
	"groundsheet/tiles/measure"
	"groundsheet/tiles/source"
	"groundsheet/tiles/store"
	"groundsheet/tiles/store/folder"
)

func ortho() source.Source {
	return source.Source{
		Name: "county", Kind: source.KindXYZ, URL: "http://127.0.0.1:9/{z}/{x}/{y}", Zooms: tiles.Zooms{Min: 8, Max: 23}, TileSize: 256,
		Terms: &source.Terms{Offline: source.OfflineAllowed, RequestsPerSecond: 8, Connections: 2},
	}
}

func circle(radius float64, z tiles.Zooms) job.Job {
	return job.Job{
		Name: "Plan", Units: "us", Margin: 15, Around: []job.Around{{Lat: 40, Lon: -105, Radius: measure.Distance(radius)}},
		Bases: []job.Base{{Source: "county", Zooms: z, Auto: z == tiles.Zooms{}}},
	}
}

func drawn(t *testing.T, j job.Job, s source.Source, shelf store.Shelf) Plan {
	t.Helper()
	in, err := j.ReadInputs()
	if err != nil {
		t.Fatal(err)
	}
	p, err := New(t.Context(), Options{Inputs: in, Source: s, Shelf: shelf})
	if err != nil {
		t.Fatal(err)
	}
	return p
}

func emptyShelf(t *testing.T) store.Shelf {
	t.Helper()
	s, err := folder.Open(t.TempDir())
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { _ = s.Close() })
	shelf, err := s.Shelf("county")
	if err != nil {
		t.Fatal(err)
	}
	return shelf
}

// TestMagnifiedZoomsAreLeftOut: 6-inch imagery at 40° is all there at zoom 20.
func TestMagnifiedZoomsAreLeftOut(t *testing.T) {
	s := ortho()
	s.GroundResolution = 6 * measure.Inch
	j := circle(50, tiles.Zooms{Min: 15, Max: 22})
	p := drawn(t, j, s, nil)
	if p.Base.Zooms.Max != 20 || len(p.Zooms) != 6 || !slices.Equal(p.Advice.Magnified, []int{21, 22}) || *p.Advice.NativeZoom != 20 {
		t.Errorf("%v %+v", p.Base.Zooms, p.Advice)
	}
	// At zoom 20 and 40° a pixel is 4.50 in, so six inches are 1.3 pixels.
	if math.Abs(p.Advice.PixelsAtDeepest-1.33) > 0.01 || p.Advice.ZoomToPlace != 22 {
		t.Errorf("%+v", p.Advice)
	}
	j.Bases[0].Magnified = true
	if p := drawn(t, j, s, nil); p.Base.Zooms.Max != 22 || len(p.Zooms) != 8 {
		t.Errorf("asked for all the same: %v", p.Base.Zooms)
	}
}

// TestChosenZooms: a job without zooms gets those from finding the street to
// placing a reading, as far as the source goes.
func TestChosenZooms(t *testing.T) {
	s := ortho()
	cases := []struct {
		name       string
		radius     float64
		resolution measure.Distance
		reading    measure.Distance
		deepest    int
		want       tiles.Zooms
	}{
		{"small site", 50, 0, 0, 23, tiles.Zooms{Min: 14, Max: 22}},
		{"source ends", 50, 0, 0, 19, tiles.Zooms{Min: 14, Max: 19}},
		{"coarse picture", 50, 1, 0, 23, tiles.Zooms{Min: 14, Max: 17}},
		{"coarse reading", 50, 0, 2 * measure.Foot, 23, tiles.Zooms{Min: 14, Max: 20}},
		{"large area", 20_000, 0, 0, 16, tiles.Zooms{Min: 10, Max: 16}},
		{"source begins late", 50, 0, 0, 23, tiles.Zooms{Min: 14, Max: 22}},
	}
	for _, c := range cases {
		t.Run(c.name, func(t *testing.T) {
			src := s
			src.GroundResolution, src.Zooms.Max = c.resolution, c.deepest
			j := circle(c.radius, tiles.Zooms{})
			j.Reading = c.reading
			if p := drawn(t, j, src, nil); p.Base.Zooms != c.want || !p.Advice.Chosen || p.Refused != nil {
				t.Errorf("%v, want %v (%v)", p.Base.Zooms, c.want, p.Refused)
			}
		})
	}
}

// withLine gives the job an overlay: a line through the middle of the circle.
func withLine(t *testing.T, j job.Job) job.Job {
	t.Helper()
	j.Dir = t.TempDir()
	line := `{"type":"LineString","coordinates":[[-105.002,40],[-104.998,40]]}`
	if err := os.WriteFile(filepath.Join(j.Dir, "w.geojson"), []byte(line), 0o644); err != nil {
		t.Fatal(err)
	}
	j.Overlays = []record.Meta{{File: "w.geojson", Utility: "water"}}
	return j
}

// TestDeepAlong: from a zoom on only the surroundings of what is recorded, and
// nothing outside the area.
func TestDeepAlong(t *testing.T) {
	j := withLine(t, circle(150, tiles.Zooms{Min: 17, Max: 21}))
	everywhere := drawn(t, j, ortho(), nil)
	j.Bases[0].DeepAlong, j.Bases[0].DeepFrom = 30*measure.Foot, 20
	p := drawn(t, j, ortho(), nil)
	for i, c := range p.Covers {
		all := everywhere.Covers[i]
		if c.Zoom() < 20 && c.Count() != all.Count() {
			t.Errorf("zoom %d was cut: %d of %d", c.Zoom(), c.Count(), all.Count())
		}
		if c.Zoom() >= 20 && (c.Count() == 0 || c.Count()*2 > all.Count()) {
			t.Errorf("zoom %d: %d of %d tiles", c.Zoom(), c.Count(), all.Count())
		}
		for id := range c.All() {
			if !all.Has(id) {
				t.Errorf("%v is outside the area", id)
			}
		}
	}
	// Ground 29 ft off the line is in, 80 ft off is out (a tile of zoom 21 is 48 ft).
	deep := p.Covers[len(p.Covers)-1]
	lat := func(feet float64) float64 { return 40 + feet*measure.Foot/111034.63 }
	if !deep.Has(tiles.At(-105, lat(29), 21)) || deep.Has(tiles.At(-105, lat(80), 21)) {
		t.Error("the wrong surroundings")
	}
}

// TestProposals: over fit_in, each way out with true numbers.
func TestProposals(t *testing.T) {
	j := withLine(t, circle(150, tiles.Zooms{Min: 17, Max: 21}))
	plan := drawn(t, j, ortho(), nil)
	j.FitIn = measure.Size(plan.Bytes / 2)
	p := drawn(t, j, ortho(), nil)
	if p.Fits() || len(p.Instead) < 3 {
		t.Fatalf("%+v", p.Instead)
	}
	for _, o := range p.Instead {
		if o.Bytes >= p.Bytes || o.Fits != (o.Bytes <= int64(j.FitIn)) || o.Write == "" {
			t.Errorf("%+v", o)
		}
		k := j
		k.Bases = slices.Clone(j.Bases)
		switch {
		case strings.Contains(o.Write, "deep_along"):
			k.Bases[0].DeepAlong = 30 * measure.Foot
			if _, from, some := strings.Cut(o.Write, "deep_from = "); some {
				if _, err := fmt.Sscan(from, &k.Bases[0].DeepFrom); err != nil {
					t.Fatal(err)
				}
			}
		case strings.Contains(o.Write, "margin"):
			k.Margin = j.Margin / 2
		case strings.Contains(o.Write, "zooms = [17, 20]"):
			k.Bases[0].Zooms.Max = 20
		default:
			continue
		}
		if then := drawn(t, k, ortho(), nil); then.Tiles != o.Tiles || math.Abs(float64(then.Bytes-o.Bytes)) > 0.01*float64(o.Bytes) {
			t.Errorf("%s: promised %d tiles and %d bytes, it comes to %d and %d", o.What, o.Tiles, o.Bytes, then.Tiles, then.Bytes)
		}
	}
	for units, want := range map[string]Choice{
		"us":     {What: "zoom 21 only within 30 ft of the recorded lines; elsewhere zoom 20: a 6 in reading covers 1.3 pixels; 3 are needed to place it", Write: `deep_along = "30ft" in [[base]]`},
		"metric": {What: "zoom 21 only within 10 m of the recorded lines; elsewhere zoom 20: a 15.2 cm reading covers 1.3 pixels; 3 are needed to place it", Write: `deep_along = "10m" in [[base]]`},
	} {
		j.Units = units
		if o := drawn(t, j, ortho(), nil).Instead[0]; o.What != want.What || o.Write != want.Write {
			t.Errorf("%s: %q, %q", units, o.What, o.Write)
		}
	}
	if j.FitIn = 0; len(drawn(t, j, ortho(), nil).Instead) > 0 {
		t.Error("proposals without need")
	}
}

// TestProposalsOfDetail: deep zooms along the lines are offered as far as it takes
// to fit, and each cut says whether it still holds the job's own reading.
func TestProposalsOfDetail(t *testing.T) {
	j := withLine(t, circle(150, tiles.Zooms{Min: 17, Max: 21}))
	j.Reading = 0.3
	alone := j
	alone.Bases = slices.Clone(j.Bases)
	alone.Bases[0].DeepAlong = 30 * measure.Foot
	j.FitIn = measure.Size(drawn(t, alone, ortho(), nil).Bytes - 1)
	p := drawn(t, j, ortho(), nil)
	find := func(write string) Choice {
		t.Helper()
		for _, o := range p.Instead {
			if o.Write == write {
				return o
			}
		}
		t.Fatalf("no offer to write %s in %+v", write, p.Instead)
		return Choice{}
	}
	if o := find(`deep_along = "30ft" in [[base]]`); o.Fits {
		t.Errorf("%+v", o)
	}
	if o := find(`deep_along = "30ft" and deep_from = 20 in [[base]]`); !o.Fits || !strings.Contains(o.What, "zooms 20 to 21 only within 30 ft") {
		t.Errorf("%+v", o)
	}
	// A pixel at 40° is 0.114 m at zoom 20 (156543.03 m × cos 40° / 2^20), so 0.3 m are 2.6.
	if o := find("zooms = [17, 20] in [[base]]"); !strings.Contains(o.What, "zoom 20: a 11.8 in reading covers 2.6 pixels; 3 are needed") {
		t.Errorf("%+v", o)
	}
	j.Reading = 1
	p = drawn(t, j, ortho(), nil)
	if o := find("zooms = [17, 20] in [[base]]"); !strings.Contains(o.What, "covers 8.7 pixels, enough to place it") {
		t.Errorf("%+v", o)
	}
}

// TestEstimates: what is held weighs what it weighs; the rest what was measured,
// absent ones counted as nothing; seconds at the polite rate.
func TestEstimates(t *testing.T) {
	shelf := emptyShelf(t)
	j := circle(150, tiles.Zooms{Min: 20, Max: 21})
	before := drawn(t, j, ortho(), shelf)
	if !before.Guessed || before.Bytes != before.Tiles*(guessBytes+bytesPerTile)+bytesPerPack || math.Abs(before.Seconds-float64(before.Tiles)/8) > 1e-9 {
		t.Errorf("before anything is known: %d bytes, %v s, guessed %v", before.Bytes, before.Seconds, before.Guessed)
	}
	var recs []store.Held
	n := 0
	for id := range before.Covers[0].All() {
		r := store.Held{Tile: tiles.Tile{ID: id, Origin: tiles.Origin{Source: "county", Fetched: time.Now(), FreshUntil: time.Now().Add(time.Hour)}}, Media: "jpg"}
		if r.Data = make([]byte, 1000); n%4 == 3 {
			r.Data, r.Media, r.Hole = nil, "", true
		}
		if len(r.Data) > 0 {
			r.Data[0] = byte(n)
		}
		if n++; n > 40 {
			break
		}
		recs = append(recs, r)
	}
	if _, err := shelf.Keep(t.Context(), recs); err != nil {
		t.Fatal(err)
	}
	p := drawn(t, j, ortho(), shelf)
	z := p.Zooms[0]
	if p.Guessed || z.Held != 30 || z.Absent != 10 || z.Fetch != z.Tiles-40 {
		t.Errorf("%+v", z)
	}
	if want := 30*1000 + (z.Tiles-40)*750 + (z.Tiles-10)*bytesPerTile; math.Abs(float64(z.BytesEstimate-want)) > 2 {
		t.Errorf("%d bytes, want %d", z.BytesEstimate, want)
	}
	// Zoom 21 has not been measured: zoom 20 speaks for it.
	if deep := p.Zooms[1]; deep.Guessed || math.Abs(float64(deep.BytesEstimate-deep.Tiles*(750+bytesPerTile))) > 2 {
		t.Errorf("%+v", deep)
	}
}

// TestSecondsLearn: what the source was seen to answer counts, but never more
// than the terms allow.
func TestSecondsLearn(t *testing.T) {
	shelf := emptyShelf(t)
	j := circle(50, tiles.Zooms{Min: 17, Max: 20})
	if err := shelf.Timed(t.Context(), 100, 50*time.Second); err != nil {
		t.Fatal(err)
	}
	if p := drawn(t, j, ortho(), shelf); !p.Timed || math.Abs(p.Seconds-float64(p.Fetch)/2) > 1e-9 {
		t.Errorf("2 a second: %v s for %d", p.Seconds, p.Fetch)
	}
	if err := shelf.Timed(t.Context(), 100_000, time.Second); err != nil {
		t.Fatal(err)
	}
	if p := drawn(t, j, ortho(), shelf); math.Abs(p.Seconds-float64(p.Fetch)/8) > 1e-9 {
		t.Errorf("8 a second by the terms: %v s for %d", p.Seconds, p.Fetch)
	}
}

// TestWhatCannotBeMeant is refused with a way out, and thins nothing else.
func TestWhatCannotBeMeant(t *testing.T) {
	coarse := ortho()
	coarse.GroundResolution = 1 // meter: all there at zoom 17
	j := circle(50, tiles.Zooms{Min: 18, Max: 20})
	if p := drawn(t, j, coarse, nil); p.Refused == nil || !strings.Contains(p.Refused.Error(), "magnified = true") {
		t.Errorf("magnified zooms alone: %v", p.Refused)
	}
	j.Bases[0].Magnified = true
	if p := drawn(t, j, coarse, nil); p.Refused != nil || p.Advice.CanPlace || p.Advice.PixelsAtDeepest > 0.2 {
		t.Errorf("%v %+v", p.Refused, p.Advice)
	}
	auto := circle(50, tiles.Zooms{})
	auto.Bases[0].Magnified = true
	if p := drawn(t, auto, coarse, nil); p.Base.Zooms.Max != 22 {
		t.Errorf("magnified without zooms: %v", p.Base.Zooms)
	}
	// deep_from beyond what is left does not thin a shallower zoom.
	coarse.GroundResolution = 9 * measure.Inch // all there at zoom 20
	deep := withLine(t, circle(150, tiles.Zooms{Min: 16, Max: 22}))
	whole := drawn(t, deep, coarse, nil)
	deep.Bases[0].DeepAlong, deep.Bases[0].DeepFrom = 30*measure.Foot, 21
	if p := drawn(t, deep, coarse, nil); p.Tiles != whole.Tiles {
		t.Errorf("%d tiles, %d without deep_along", p.Tiles, whole.Tiles)
	}
	// Nothing recorded near: an empty zoom would make a pack that lies.
	far := withLine(t, circle(150, tiles.Zooms{Min: 17, Max: 20}))
	far.Around[0].Lat = 41
	far.Bases[0].DeepAlong = 30 * measure.Foot
	if p := drawn(t, far, ortho(), nil); p.Refused == nil || !strings.Contains(p.Refused.Error(), "deep_along") {
		t.Errorf("%v", p.Refused)
	}
}

// TestBoxOverTheAntimeridian takes the short way round.
func TestBoxOverTheAntimeridian(t *testing.T) {
	j := circle(50, tiles.Zooms{})
	j.Around, j.Boxes = nil, []job.Box{{FromLat: 10, FromLon: 179.999, ToLat: 10.001, ToLon: -179.999}}
	p := drawn(t, j, ortho(), nil)
	lon, lat := p.Middle()
	if p.Refused != nil || p.Base.Zooms.Min != 14 || math.Abs(math.Abs(lon)-180) > 1e-6 || math.Abs(lat-10.0005) > 1e-6 {
		t.Errorf("%v %v, middle %v %v", p.Refused, p.Base.Zooms, lon, lat)
	}
}

// TestOutlineOfTooManyCorners: an area in so many pieces that its outline could
// not be read again is refused before anything is worked out.
func TestOutlineOfTooManyCorners(t *testing.T) {
	var lines []string
	for i := range 14_000 {
		x, y := -105+float64(i%120)*0.001, 40+float64(i/120)*0.001
		lines = append(lines, fmt.Sprintf("[[%.4f,%.4f],[%.4f,%.4f]]", x, y, x+0.0001, y))
	}
	j := circle(50, tiles.Zooms{Min: 14, Max: 16})
	j.Dir = t.TempDir()
	j.Along = []job.Along{{File: "many.geojson", Width: 2}}
	text := `{"type":"MultiLineString","coordinates":[` + strings.Join(lines, ",") + `]}`
	if err := os.WriteFile(filepath.Join(j.Dir, "many.geojson"), []byte(text), 0o644); err != nil {
		t.Fatal(err)
	}
	_, err := j.ReadInputs()
	if !errors.Is(err, job.Invalid) || !strings.Contains(err.Error(), "more than 500000 is more than a phone draws; simplify") {
		t.Errorf("%v", err)
	}
}

// TestSlips: what cannot have been meant is refused, and what the terms forbid.
func TestSlips(t *testing.T) {
	j := circle(900_000, tiles.Zooms{Min: 8, Max: 23})
	j.Around[0].Radius = 90_000
	j.Area = nil
	if p := drawn(t, j, ortho(), nil); p.Refused == nil || !strings.Contains(p.Refused.Error(), "slip") {
		t.Errorf("%v", p.Refused)
	}
	s := ortho()
	s.Terms.TilesPerJob = 3
	if p := drawn(t, circle(50, tiles.Zooms{Min: 17, Max: 19}), s, nil); p.Refused == nil || !strings.Contains(p.Refused.Error(), "the terms allow 3 a job") {
		t.Errorf("%v", p.Refused)
	}
}
