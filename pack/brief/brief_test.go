package brief

import (
	"bytes"
	"context"
	"crypto/sha256"
	"errors"
	"fmt"
	"image"
	"image/color"
	"iter"
	"path/filepath"
	"regexp"
	"strings"
	"testing"
	"time"

	"github.com/paulmach/orb"
	"golang.org/x/image/draw"

	"groundsheet/pack"
	"groundsheet/pack/record"
	"groundsheet/pack/record/derive"
	"groundsheet/tiles"
	"groundsheet/tiles/fault"
	"groundsheet/tiles/geodesic"
	"groundsheet/tiles/raster"
	"groundsheet/tiles/store"
)

// middle of the invented job; now is the clock of all tests.
var (
	middle = orb.Point{-105.27, 40.01}
	now    = time.Date(2026, 11, 25, 9, 0, 0, 0, time.UTC)
)

// from is a place some meters east and north of the middle.
func from(east, north float64) orb.Point {
	return geodesic.At(middle).Degrees(orb.Point{east, north})
}

func about() pack.About {
	return pack.About{
		Name: "Brief", Number: "24-1", Units: "us", TileSize: 256, Zooms: [2]int{17, 20}, GroundResolution: 0.114, OneCall: "000-0000",
		Ticket:    &pack.Ticket{Number: "T-1", ValidUntil: "2026-11-25"},
		Tolerance: &pack.Tolerance{EachSide: 0.6096, Rule: "invented rule"},
		Expected:  []string{"gas", "electric"}, ExpectedMissing: []string{"electric"},
		Source: pack.AboutSource{Name: "grey", Attribution: "Example County"},
	}
}

func records(t *testing.T, id, utility, features string) record.Overlay {
	t.Helper()
	o, err := record.Read([]byte(`{"type":"FeatureCollection","features":[`+features+`]}`), record.Meta{File: id + ".geojson", Title: "Record " + id, Utility: utility, QualityLevel: "D", Recorded: "1998"}, id)
	if err != nil {
		t.Fatal(err)
	}
	return o
}

func line(properties string, at ...orb.Point) string {
	var all []string
	for _, p := range at {
		all = append(all, fmt.Sprintf("[%.9f,%.9f]", p[0], p[1]))
	}
	return fmt.Sprintf(`{"type":"Feature","properties":{%s},"geometry":{"type":"LineString","coordinates":[%s]}}`, properties, strings.Join(all, ","))
}

func reading(properties string, p orb.Point) string {
	return fmt.Sprintf(`{"type":"Feature","properties":{%s},"geometry":{"type":"Point","coordinates":[%.9f,%.9f]}}`, properties, p[0], p[1])
}

func square(part string, half float64) string {
	var all []string
	for _, c := range [][2]float64{{-1, -1}, {1, -1}, {1, 1}, {-1, 1}, {-1, -1}} {
		p := from(c[0]*half, c[1]*half)
		all = append(all, fmt.Sprintf("[%.9f,%.9f]", p[0], p[1]))
	}
	return fmt.Sprintf(`{"type":"Feature","properties":{"part":%q},"geometry":{"type":"Polygon","coordinates":[[%s]]}}`, part, strings.Join(all, ","))
}

func gray(t *testing.T) []byte {
	t.Helper()
	img := image.NewRGBA(image.Rect(0, 0, 256, 256))
	draw.Draw(img, img.Rect, image.NewUniform(color.Gray{0x90}), image.Point{}, draw.Src)
	data, err := raster.Encode(img, raster.PNG)
	if err != nil {
		t.Fatal(err)
	}
	return data
}

// newPack packs a square dig area of 20 m each way, with a margin of 30 m, with
// what is known of it.
func newPack(t *testing.T, a pack.About, overlays ...record.Overlay) *pack.Pack {
	t.Helper()
	o := derive.Options{Uncertainty: true, Rules: a.Rules, SanityOptions: record.SanityOptions{Units: a.Units}}
	if a.Tolerance != nil {
		o.EachSide = a.Tolerance.EachSide.Meters()
	}
	low, high := from(-20, -20), from(20, 20)
	k := derive.From(overlays, orb.MultiPolygon{orb.Bound{Min: low, Max: high}.ToPolygon()}, o)
	return packWith(t, a, &k, overlays...)
}

func packWith(t *testing.T, a pack.About, known *derive.Result, overlays ...record.Overlay) *pack.Pack {
	t.Helper()
	data := gray(t)
	area := []byte(`{"type":"FeatureCollection","features":[` + square("area", 20) + "," + square("margin", 30) + `]}`)
	return packOn(t, a, area, 60, func(tiles.ID) []byte { return data }, known, overlays...)
}

// packOn packs an area with its picture so many meters each way of the middle.
func packOn(t *testing.T, a pack.About, area []byte, reach float64, picture func(tiles.ID) []byte, known *derive.Result, overlays ...record.Overlay) *pack.Pack {
	t.Helper()
	var covers []tiles.Cover
	for z := 17; z <= 20; z++ {
		low, high := from(-reach, -reach), from(reach, reach)
		first, last := tiles.At(low[0], high[1], z), tiles.At(high[0], low[1], z)
		var spans []tiles.Span
		for row := first.Y; row <= last.Y; row++ {
			spans = append(spans, tiles.Span{Row: row, First: first.X, Last: last.X})
		}
		covers = append(covers, tiles.NewCover(z, spans))
	}
	box, _ := covers[3].Bounds()
	path := filepath.Join(t.TempDir(), "b.mbtiles")
	packed, err := pack.Overlays(overlays, box)
	if err != nil {
		t.Fatal(err)
	}
	_, err = pack.Write(t.Context(), path, pack.Content{
		Derived: known, About: a, Bounds: box, Covers: covers, Overlays: packed,
		Area: area,
		Tiles: store.CoverFunc(func(_ context.Context, c tiles.Cover, _ bool) iter.Seq2[store.Held, error] {
			return func(yield func(store.Held, error) bool) {
				for id := range c.All() {
					data := picture(id)
					if !yield(store.Held{Tile: tiles.Tile{ID: id, Data: data}, Hash: sha256.Sum256(data), Bytes: len(data), Media: "png"}, nil) {
						return
					}
				}
			}
		}),
	}, pack.WriteOptions{Now: func() time.Time { return now }})
	if err != nil {
		t.Fatal(err)
	}
	p, err := pack.Open(t.Context(), path)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { p.Close() })
	return p
}

func write(t *testing.T, p *pack.Pack, o Options) (m Summary, pdf, page []byte) {
	t.Helper()
	if o.Now == nil {
		o.Now = func() time.Time { return now }
	}
	var a, b bytes.Buffer
	m, err := Write(t.Context(), p, &a, &b, o)
	if err != nil {
		t.Fatal(err)
	}
	return m, a.Bytes(), b.Bytes()
}

func usual(t *testing.T) []record.Overlay {
	return []record.Overlay{
		records(t, "w", "water", line(`"depth":"41in","depth_of":"top","size":"6 in"`, from(-50, 0), from(50, 0))),
		records(t, "g", "gas", line(`"depth":"2ft","depth_of":"top","size":"4 in"`, from(0, -50), from(0, 50))+","+line(``, from(10, -50), from(10, 50))+","+reading(`"depth":"3ft 5in"`, from(5, 5))),
	}
}

func TestBrief(t *testing.T) {
	p := newPack(t, about(), usual(t)...)
	m, pdf, page := write(t, p, Options{})
	if m.Sheets < 2 || m.Sheets > fewSheets || m.Pages < m.Sheets+3 || m.Scale != 120 && m.Scale != 240 || !strings.HasPrefix(m.Words, "1 in = ") {
		t.Errorf("%+v", m)
	}
	if !bytes.HasPrefix(pdf, []byte("%PDF-")) || !bytes.Contains(pdf, []byte("/MediaBox [0 0 612.00 792.00]")) {
		t.Error("no PDF of letter size")
	}
	text := string(page)
	for _, want := range []string{
		"T-1", "2026-11-25 (as stated", "000-0000", "electric (electric power, lighting) was notified and there is no record",
		"gas is recorded above water", "17 in", "vertical relation unknown", "enters the dig area", "Example County", "Picture taken", "unknown",
		"1 in = 10 ft (1:120)", "17 to 20", "2 lines, ", "size: letter;", "Overview", "1998",
	} {
		if !strings.Contains(text, want) {
			t.Errorf("the page does not say %q", want)
		}
	}
	_, again, pageAgain := write(t, p, Options{})
	if !bytes.Equal(pdf, again) || !bytes.Equal(page, pageAgain) {
		t.Error("the same pack, options and time gave other bytes")
	}
	if _, pdf, _ := write(t, p, Options{Paper: A4}); !bytes.Contains(pdf, []byte("/MediaBox [0 0 595.28 841.89]")) {
		t.Error("no PDF of A4 size")
	}
}

// TestPacksOwnKnowledge: what the pack holds is told, and not worked out anew;
// only a pack without it is.
func TestPacksOwnKnowledge(t *testing.T) {
	s, err := readPack(t.Context(), packWith(t, about(), &derive.Result{Statistics: []derive.Statistics{{Utility: "sewer", Lines: 77}}}, usual(t)...), now)
	if err != nil || len(s.derived.Statistics) != 1 || s.derived.Statistics[0].Lines != 77 || len(s.derived.Crossings) != 0 {
		t.Errorf("%v, %+v", err, s.derived)
	}
	s, err = readPack(t.Context(), packWith(t, about(), nil, usual(t)...), now)
	if err != nil || len(s.derived.Crossings) != 2 || len(s.derived.Zones) != 3 {
		t.Errorf("%v: %d crossings, %d zones", err, len(s.derived.Crossings), len(s.derived.Zones))
	}
}

func TestSelfContained(t *testing.T) {
	_, _, page := write(t, newPack(t, about(), usual(t)...), Options{Scale: 480})
	for _, m := range regexp.MustCompile(`(?:src|href)="([^"]{0,40})`).FindAllSubmatch(page, -1) {
		if !bytes.HasPrefix(m[1], []byte("data:image/")) {
			t.Errorf("the page asks for %q", m[1])
		}
	}
	if bytes.Contains(page, []byte("<script")) {
		t.Error("the page has a script")
	}
}

func TestTicket(t *testing.T) {
	for name, c := range map[string]struct {
		ticket *pack.Ticket
		want   string
	}{
		"none":     {nil, "not stated: ask"},
		"last day": {&pack.Ticket{Number: "1", ValidUntil: "2026-11-25"}, "2026-11-25 (as stated"},
		"past":     {&pack.Ticket{Number: "1", ValidUntil: "2026-11-24"}, "2026-11-24. This ticket has EXPIRED. Do not dig on it"},
		"no day":   {&pack.Ticket{Number: "1"}, "not stated: ask"},
		"no date":  {&pack.Ticket{Number: "1", ValidUntil: "soon"}, "soon (not a date)"},
	} {
		s := packData{about: pack.About{Ticket: c.ticket}, now: now.Add(14 * time.Hour)}
		if got := s.validity(); !strings.HasPrefix(got, c.want) {
			t.Errorf("%s: %q", name, got)
		}
	}
}

func TestRefused(t *testing.T) {
	p := newPack(t, about())
	for name, o := range map[string]Options{
		"paper": {Paper: "a3"}, "tiny scale": {Scale: 1}, "too many sheets": {Scale: 20},
	} {
		var misuse *fault.Fault
		var a, b bytes.Buffer
		if _, err := Write(t.Context(), p, &a, &b, o); !errors.As(err, &misuse) || misuse.Kind != Misuse || misuse.Remedy == "" || a.Len()+b.Len() > 0 {
			t.Errorf("%s: %v", name, err)
		}
	}
	foreign := &pack.Pack{Path: "x.mbtiles"}
	if _, err := Write(t.Context(), foreign, &bytes.Buffer{}, &bytes.Buffer{}, Options{}); !errors.Is(err, pack.NotPack) {
		t.Errorf("a file without a job: %v", err)
	}
}

func TestNothingRecorded(t *testing.T) {
	a := about()
	a.Tolerance, a.Expected, a.ExpectedMissing = nil, nil, nil
	_, _, page := write(t, newPack(t, a), Options{Scale: 480})
	for _, want := range []string{"holds no record of anything", "No two of the lines in these records cross", "does not say which utilities were notified", "states no tolerance rule"} {
		if !bytes.Contains(page, []byte(want)) {
			t.Errorf("the page does not say %q", want)
		}
	}
}

// TestNothingHere: a gas record without features, or 280 m away, silences no
// warning about gas.
func TestNothingHere(t *testing.T) {
	for name, o := range map[string]record.Overlay{
		"no features": records(t, "g", "gas", ""),
		"280 m away":  records(t, "g", "gas", line("", from(-10, 300), from(10, 300))),
	} {
		a := about()
		a.Expected, a.ExpectedMissing = []string{"gas", "water"}, nil
		_, _, page := write(t, newPack(t, a, o), Options{Scale: 480})
		for _, want := range []string{
			"gas (gas, oil, steam, petroleum) was notified; its record shows nothing in use in or near the dig area. That is not a clear",
			"water (potable water) was notified and there is no record of it in this pack: expect it anywhere.",
		} {
			if !bytes.Contains(page, []byte(want)) {
				t.Errorf("%s: the page does not say %q", name, want)
			}
		}
	}
}

// hostile is what a pack from a stranger may hold.
var hostile = "<script>alert(1)</script>\x00\x1b[31m =HYPERLINK(1)\u202e\u2066 ) Tj ET \U0001F6A7 العربية {{.}} " + strings.Repeat("<b>long ", 1<<15)

func TestHostileText(t *testing.T) {
	a := about()
	a.Name, a.Number, a.OneCall, a.Ticket.Number, a.Ticket.ValidUntil, a.Tolerance.Rule = hostile, hostile, hostile, hostile, hostile, hostile
	a.Source = pack.AboutSource{Name: hostile, Attribution: hostile, Captured: hostile, Reference: hostile, Permission: hostile}
	a.ExpectedMissing = []string{hostile}
	all := usual(t)
	for i := range all {
		all[i].Title, all[i].Owner, all[i].Record, all[i].QualityLevel, all[i].Note = hostile, hostile, hostile, hostile, hostile
		for _, f := range all[i].Features {
			f.Properties["quality_level"], f.Properties["line"], f.Properties["label"] = hostile, hostile, hostile
		}
	}
	_, pdf, page := write(t, newPack(t, a, all...), Options{Scale: 480})
	for _, bad := range []string{"<script", "<b>", "\x00", "\x1b", "\u202e", "\u2066"} {
		if bytes.Contains(page, []byte(bad)) {
			t.Errorf("the page holds %q", bad)
		}
	}
	if !bytes.Contains(page, []byte("…")) || len(page) > 4<<20 || len(pdf) > 4<<20 {
		t.Errorf("a long text is not cut: page %d, PDF %d bytes", len(page), len(pdf))
	}
	if bytes.Contains(pdf, []byte("alert(1)")) || bytes.Contains(pdf, []byte("/JavaScript")) {
		t.Error("the PDF holds the text as it stands")
	}
}

func TestBrokenTileIsSaid(t *testing.T) {
	s := sheet{base: basePicture{unread: 2, blank: 1, enlarged: 3}}
	if got := s.omissions(&labelPlacer{hidden: 4}); !strings.Contains(got, "2 tiles could not be read") || !strings.Contains(got, "1 tile within the margin has no picture") || !strings.Contains(got, "3 tiles") || !strings.Contains(got, "4 labels") {
		t.Errorf("%q", got)
	}
}
