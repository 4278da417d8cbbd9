package check

import (
	"bytes"
	"context"
	"crypto/sha256"
	"errors"
	"fmt"
	"image"
	"iter"
	"maps"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"groundsheet/pack"
	"groundsheet/pack/record"
	"groundsheet/pack/record/derive"
	"groundsheet/tiles"
	"groundsheet/tiles/measure"
	"groundsheet/tiles/raster"
	"groundsheet/tiles/sqlite"
	"groundsheet/tiles/store"
	"groundsheet/tiles/words/golden"
)

func picture(t *testing.T, side int, kind raster.Kind, shade uint8) []byte {
	t.Helper()
	img := image.NewRGBA(image.Rect(0, 0, side, side))
	for i := range img.Pix {
		img.Pix[i] = shade
	}
	data, err := raster.Encode(img, kind)
	if err != nil {
		t.Fatal(err)
	}
	return data
}

var (
	shallow = tiles.NewCover(10, []tiles.Span{{Row: 5, First: 5, Last: 5}})
	deep    = tiles.NewCover(11, []tiles.Span{{Row: 10, First: 10, Last: 11}, {Row: 11, First: 10, Last: 10}})
)

// held is a store in memory; images may be spoilt before they are packed.
type held map[tiles.ID]store.Held

func (h held) put(id tiles.ID, data []byte, media string) {
	h[id] = store.Held{Tile: tiles.Tile{ID: id, Data: data}, Hash: sha256.Sum256(data), Bytes: len(data), Media: media, Hole: data == nil}
}

func (h held) In(_ context.Context, c tiles.Cover, _ bool) iter.Seq2[store.Held, error] {
	return func(yield func(store.Held, error) bool) {
		for id := range c.All() {
			if !yield(h[id], nil) {
				return
			}
		}
	}
}

func whole(t *testing.T) held {
	h := held{}
	shade := uint8(1)
	for _, c := range []tiles.Cover{shallow, deep} {
		for id := range c.All() {
			h.put(id, picture(t, 256, "png", shade), "png")
			shade++
		}
	}
	return h
}

func about() pack.About {
	return pack.About{Name: "Check", Units: "us", TileSize: 256, Source: pack.AboutSource{Captured: "2025-03"}}
}

func write(t *testing.T, h held, a pack.About, overlays ...record.Overlay) string {
	t.Helper()
	path := filepath.Join(t.TempDir(), "c.mbtiles")
	box, _ := deep.Bounds()
	packed, err := pack.Overlays(overlays, box)
	if err != nil {
		t.Fatal(err)
	}
	c := pack.Content{About: a, Bounds: box, Covers: []tiles.Cover{shallow, deep}, Area: []byte(`{}`), Overlays: packed, Tiles: h}
	if _, err := pack.Write(t.Context(), path, c, pack.WriteOptions{}); err != nil {
		t.Fatal(err)
	}
	return path
}

func verdict(t *testing.T, path string, o Options) Report {
	t.Helper()
	r, err := Run(t.Context(), path, o)
	if err != nil {
		t.Fatal(err)
	}
	return r
}

func has(r Report, kind, severity, says string) bool {
	for _, f := range r.Findings {
		if f.Kind == kind && f.Severity == severity && strings.Contains(f.Detail, says) {
			return true
		}
	}
	return false
}

func TestWholePackIsFit(t *testing.T) {
	r := verdict(t, write(t, whole(t), about()), Options{})
	if r.Verdict != Fit || r.TilesWanted != 4 || r.TilesHeld != 4 || len(r.Findings) != 0 || r.Bytes == 0 {
		t.Errorf("%+v", r)
	}
}

func TestFaultsAndWarnings(t *testing.T) {
	first := tiles.ID{Z: 11, X: 10, Y: 10}
	far, err := record.Read([]byte(`{"type":"Point","coordinates":[10,10]}`), record.Meta{File: "far.geojson", Utility: "gas"}, "1")
	if err != nil {
		t.Fatal(err)
	}
	read := func(data, recorded string) record.Overlay {
		o, err := record.Read([]byte(data), record.Meta{File: "o.geojson", Utility: "gas", QualityLevel: "D", Recorded: recorded}, "1")
		if err != nil {
			t.Fatal(err)
		}
		return o
	}
	later := read(`{"type":"Point","coordinates":[10,10]}`, "2099-01-01")
	box, _ := deep.Bounds()
	partly := read(fmt.Sprintf(`{"type":"FeatureCollection","features":[{"type":"Feature","properties":{},"geometry":{"type":"Point","coordinates":[10,10]}},
	 {"type":"Feature","properties":{},"geometry":{"type":"Point","coordinates":[%f,%f]}}]}`, (box.West+box.East)/2, (box.South+box.North)/2), "1999")
	empty := read(`{"type":"FeatureCollection","features":[]}`, "1999")
	cases := map[string]struct {
		spoil                func(held)
		about                func(*pack.About)
		overlays             []record.Overlay
		kind, severity, says string
		verdict              string
	}{
		"hole":            {spoil: func(h held) { h.put(first, nil, "") }, kind: "hole", severity: Warning, says: "zoom 10 is enlarged", verdict: Fit},
		"blank":           {spoil: func(h held) { h.put(first.Parent(), nil, ""); h.put(first, nil, "") }, kind: "blank", severity: Fault, says: first.String(), verdict: NotFit},
		"wrong size":      {spoil: func(h held) { h.put(first, picture(t, 128, "png", 9), "png") }, kind: "wrong size", severity: Fault, says: "128×128", verdict: NotFit},
		"wrong format":    {spoil: func(h held) { h.put(first, picture(t, 256, "jpg", 9), "png") }, kind: "wrong format", severity: Fault, says: "jpg", verdict: NotFit},
		"not an image":    {spoil: func(h held) { h.put(first, []byte("<html>sign in</html>"), "png") }, kind: "undecodable", severity: Fault, says: "1 image", verdict: NotFit},
		"cut short":       {spoil: func(h held) { d := picture(t, 256, "png", 9); h.put(first, d[:len(d)-5], "png") }, kind: "undecodable", severity: Fault, says: "1 image", verdict: NotFit},
		"too large":       {about: func(a *pack.About) { a.FitInBytes = 1000 }, kind: "too large", severity: Fault, says: "fit_in", verdict: NotFit},
		"ticket past":     {about: func(a *pack.About) { a.Ticket = &pack.Ticket{Number: "T", ValidUntil: "2026-01-31"} }, kind: "ticket", severity: Warning, says: "2026-01-31", verdict: Fit},
		"ticket no day":   {about: func(a *pack.About) { a.Ticket = &pack.Ticket{Number: "T"} }, kind: "ticket", severity: Warning, says: "not stated", verdict: Fit},
		"picture undated": {about: func(a *pack.About) { a.Source.Captured = "" }, kind: "not stated", severity: Warning, says: "picture", verdict: Fit},
		"nothing here":    {about: func(a *pack.About) { a.ExpectedMissing, a.NothingHere = []string{"gas"}, []string{"gas"} }, kind: "nothing here", severity: Warning, says: "not a clear", verdict: Fit},
		"not recorded":    {about: func(a *pack.About) { a.ExpectedMissing = []string{"gas"} }, kind: "no record", severity: Warning, says: "gas", verdict: Fit},
		"overlay outside": {overlays: []record.Overlay{far}, kind: "outside", severity: Fault, says: `"far"`, verdict: NotFit},
		"overlay to come": {overlays: []record.Overlay{later}, kind: "date", severity: Warning, says: "2099", verdict: NotFit},
		"partly outside":  {overlays: []record.Overlay{partly}, kind: "outside", severity: Warning, says: "1 of 2", verdict: Fit},
		"overlay empty":   {overlays: []record.Overlay{empty}, kind: "not stated", severity: Note, says: "records nothing", verdict: Fit},
		"overlay undated": {overlays: []record.Overlay{far}, kind: "not stated", severity: Warning, says: "date", verdict: NotFit},
	}
	said := map[string]string{}
	for name, c := range cases {
		t.Run(name, func(t *testing.T) {
			h, a := whole(t), about()
			if c.spoil != nil {
				c.spoil(h)
			}
			if c.about != nil {
				c.about(&a)
			}
			r := verdict(t, write(t, h, a, c.overlays...), Options{Now: func() time.Time { return time.Date(2026, 2, 1, 0, 0, 1, 0, time.Local) }})
			if r.Verdict != c.verdict || !has(r, c.kind, c.severity, c.says) {
				t.Errorf("%+v", r)
			}
			if _, known := kinds[c.kind]; !known {
				t.Errorf("the kind %q is not explained", c.kind)
			}
			for _, f := range r.Findings {
				if f.Kind == "clock" {
					continue // the pack is written now
				}
				said[name] += fmt.Sprintf("    %s, %s: %s\n", f.Severity, f.Kind, f.Detail)
			}
		})
	}
	got := ""
	for _, name := range slices.Sorted(maps.Keys(said)) {
		got += name + "\n" + said[name]
	}
	golden.Hold(t, "words", got)
}

// TestTicketOnItsLastDay: the last valid day is valid to its end.
func TestTicketOnItsLastDay(t *testing.T) {
	a := about()
	a.Ticket = &pack.Ticket{Number: "T", ValidUntil: "2026-01-31"}
	path := write(t, whole(t), a)
	r := verdict(t, path, Options{Now: func() time.Time { return time.Date(2026, 1, 31, 23, 59, 59, 0, time.Local) }})
	if r.Counts["ticket"] != 0 {
		t.Errorf("%+v", r.Findings)
	}
}

// TestTimesToCome: a pack from another computer's future is named, for what was
// fetched and for the pack itself; a day is nobody's mistake.
func TestTimesToCome(t *testing.T) {
	h := whole(t)
	for id, r := range h {
		r.Fetched = time.Now().Add(50 * time.Hour).UTC()
		h[id] = r
	}
	path := write(t, h, about())
	for ahead, want := range map[time.Duration]int{0: 1, -30 * time.Hour: 2, 30 * time.Hour: 0} {
		r := verdict(t, path, Options{Now: func() time.Time { return time.Now().Add(ahead) }})
		if r.Verdict != Fit || r.Counts["clock"] != want {
			t.Errorf("the clock %v on: %+v", ahead, r.Findings)
		}
		if want > 0 && !has(r, "clock", Warning, "fetched "+measure.Moment(time.Now().Add(50 * time.Hour))[:10]) {
			t.Errorf("%+v", r.Findings)
		}
	}
}

func TestAgainst(t *testing.T) {
	path := write(t, whole(t), about())
	wider := tiles.NewCover(11, []tiles.Span{{Row: 10, First: 10, Last: 12}})
	r := verdict(t, path, Options{Against: &Expectation{Covers: []tiles.Cover{shallow, wider}, About: about(), Seals: map[string]string{}}})
	if r.Verdict != NotFit || !has(r, "missing", Fault, "11/12/10") || !has(r, "stray", Note, "11/10/11") {
		t.Errorf("%+v", r)
	}
}

// TestGutted takes parts out of a good pack: none of it may pass.
func TestGutted(t *testing.T) {
	note, err := record.Read([]byte(`{"type":"Point","coordinates":[-178.1,84.9]}`), record.Meta{File: "n.geojson", Utility: "gas", QualityLevel: "D", Recorded: "1999"}, "1-gas")
	if err != nil {
		t.Fatal(err)
	}
	for name, query := range map[string]string{
		"no description":    `DELETE FROM groundsheet_document WHERE key='about'`,
		"no area":           `DELETE FROM groundsheet_document WHERE key='area'`,
		"other area":        `UPDATE groundsheet_document SET body='{}{}' WHERE key='area'`,
		"no overlay":        `DELETE FROM groundsheet_overlay`,
		"other overlay":     `UPDATE groundsheet_overlay SET features='garbage'`,
		"wants less":        `DELETE FROM groundsheet_wanted WHERE zoom=11; DELETE FROM tiles WHERE zoom_level=11`,
		"wants nothing":     `DELETE FROM groundsheet_wanted`,
		"wants the world":   `INSERT INTO groundsheet_wanted VALUES(24,1,0,16777215),(24,2,0,16777215)`,
		"wants nonsense":    `UPDATE groundsheet_wanted SET first=-1`,
		"metadata zooms":    `UPDATE metadata SET value='10' WHERE name='maxzoom'`,
		"no tile":           `DELETE FROM tiles`,
		"text for a column": `INSERT INTO tiles VALUES('abc',0,0,x'00')`,
		"a hole and a tile": `INSERT INTO groundsheet_hole VALUES(11,10,10,'2026-01-01T00:00:00Z')`,
		"a hash of text":    `UPDATE groundsheet_origin SET sha256='abc'`,
		"a place of text":   `INSERT INTO groundsheet_origin VALUES(11,10,10.5,'','','',x'00',0)`,
		"impossible place":  `INSERT INTO tiles VALUES(3,99,0,x'00')`,
	} {
		t.Run(name, func(t *testing.T) {
			path := write(t, whole(t), about(), note)
			db := sqlite.Open(path, sqlite.Options{Settings: "mode=rw"})
			if _, err := db.Exec(query); err != nil {
				t.Fatal(err)
			}
			if err := db.Close(); err != nil {
				t.Fatal(err)
			}
			r, err := Run(t.Context(), path, Options{})
			if err == nil && r.Verdict == Fit || err != nil && !errors.Is(err, pack.NotPack) {
				t.Errorf("%+v %v", r, err)
			}
		})
	}
}

// TestJobChanged: a pack is held against more than the tiles of a job.
func TestJobChanged(t *testing.T) {
	a := about()
	a.Source.Name, a.Ticket = "town", &pack.Ticket{Number: "T", ValidUntil: "2099-01-01"}
	path := write(t, whole(t), a)
	job := func(change func(*Expectation)) *Expectation {
		j := &Expectation{Covers: []tiles.Cover{shallow, deep}, About: a, Seals: map[string]string{pack.AreaPart: pack.AreaSeal([]byte(`{}`))}}
		change(j)
		return j
	}
	if r := verdict(t, path, Options{Against: job(func(*Expectation) {})}); r.Verdict != Fit || len(r.Findings) > 0 {
		t.Errorf("nothing has changed: %+v", r)
	}
	for says, change := range map[string]func(*Expectation){
		"source":         func(j *Expectation) { j.About.Source.Name = "county" },
		"ticket":         func(j *Expectation) { j.About.Ticket = nil },
		"tolerance zone": func(j *Expectation) { j.About.Tolerance = &pack.Tolerance{EachSide: 1} },
		"clearance rule": func(j *Expectation) {
			j.About.Rules = []derive.Rule{{Between: [2]string{"gas", "gas"}, Vertical: &derive.MinClearance{M: 1, Stated: "1 m"}, By: "a"}}
		},
		"looks at records": func(j *Expectation) { j.About.Records.DepthGapM = 3 },
		"margin":           func(j *Expectation) { j.About.MarginM = 3 },
		"expected":         func(j *Expectation) { j.About.Expected = []string{"gas"} },
		"name":             func(j *Expectation) { j.About.Name = "Other" },
		"one-call":         func(j *Expectation) { j.About.OneCall = "811" },
		"fit_in":           func(j *Expectation) { j.About.FitInBytes = 5 },
		"jpeg_quality":     func(j *Expectation) { j.About.JPEGQuality = 50 },
		"invented":         func(j *Expectation) { j.About.Invented = true },
		"dig area":         func(j *Expectation) { j.Seals[pack.AreaPart] = "x" },
		"overlay 1-gas":    func(j *Expectation) { j.Seals["overlay 1-gas"] = "x" },
	} {
		if r := verdict(t, path, Options{Against: job(change)}); r.Verdict != NotFit || !has(r, "job changed", Fault, says) {
			t.Errorf("%s: %+v", says, r)
		}
	}
}

// TestDamagedPixels: an image that is whole by its markers, but cannot be decoded, is
// not packed, and every check says so. One that got into a file later is found without
// decoding all the others.
func TestDamagedPixels(t *testing.T) {
	data := picture(t, 256, "jpg", 9)
	scan := bytes.Index(data, []byte{0xff, 0xda}) + 14
	for i := scan; i < len(data)-2; i++ {
		data[i] = 0x55
	}
	if _, err := raster.Prove(data, 256); err != nil {
		t.Fatal("the cheap proof sees it, so this tests nothing:", err)
	}
	h := whole(t)
	for id := range h {
		h.put(id, picture(t, 256, "jpg", 9), "jpg")
	}
	good := write(t, h, about())
	if r := verdict(t, good, Options{}); r.Verdict != Fit || r.Deep {
		t.Errorf("decoded when it was packed, and again: %+v", r)
	}
	if r := verdict(t, good, Options{Deep: true}); r.Verdict != Fit || !r.Deep {
		t.Errorf("%+v", r)
	}
	first := tiles.ID{Z: 11, X: 10, Y: 10}
	h.put(first, data, "jpg")
	if r := verdict(t, write(t, h, about()), Options{}); r.Verdict != NotFit || !has(r, "undecodable", Fault, "1 image") || !has(r, "missing", Fault, first.String()) || r.Counts["damaged"] > 0 {
		t.Errorf("%+v", r)
	}
	db := sqlite.Open(good, sqlite.Options{Settings: "mode=rw"})
	_, err := db.Exec(`UPDATE groundsheet_image SET tile_data=?`, data) // one image at all places
	if err := errors.Join(err, db.Close()); err != nil {
		t.Fatal(err)
	}
	if r := verdict(t, good, Options{}); r.Verdict != NotFit || r.Deep || !has(r, "unreadable", Fault, first.String()) {
		t.Errorf("%+v", r)
	}
}

// TestForeignFile: what it should hold is not known, so it is not fit by
// itself.
func TestForeignFile(t *testing.T) {
	path := filepath.Join(t.TempDir(), "foreign.mbtiles")
	db := sqlite.Open(path, sqlite.Options{Settings: "mode=rwc"})
	if _, err := db.Exec(`CREATE TABLE metadata(name text, value text); CREATE TABLE tiles(zoom_level integer, tile_column integer, tile_row integer, tile_data blob);
	 INSERT INTO metadata VALUES('format','png'),('minzoom','2'),('maxzoom','2'); INSERT INTO tiles VALUES(2,1,3,?)`, picture(t, 256, "png", 3)); err != nil {
		t.Fatal(err)
	}
	if err := db.Close(); err != nil {
		t.Fatal(err)
	}
	if r := verdict(t, path, Options{}); r.Verdict != NotFit || !r.Deep || !has(r, "not a site pack", Fault, "--against") || r.TilesHeld != 1 {
		t.Errorf("%+v", r)
	}
	job := &Expectation{Covers: []tiles.Cover{tiles.NewCover(2, []tiles.Span{{Row: 0, First: 1, Last: 1}})}}
	if r := verdict(t, path, Options{Against: job}); r.Verdict != Fit {
		t.Errorf("held against a job: %+v", r)
	}
}

func TestCancelledIsNoVerdict(t *testing.T) {
	path := write(t, whole(t), about())
	ctx, cancel := context.WithCancel(t.Context())
	cancel()
	if r, err := Run(ctx, path, Options{}); !errors.Is(err, context.Canceled) {
		t.Errorf("%+v %v", r, err)
	}
}

// TestBrokenPages flips bytes in the middle of the file: never fit, never a
// crash.
func TestBrokenPages(t *testing.T) {
	path := write(t, whole(t), about())
	good, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	for at := 4096; at < len(good); at += 2048 {
		bad := bytes.Clone(good)
		for i := at; i < min(at+64, len(bad)); i++ {
			bad[i] ^= 0xa5
		}
		broken := filepath.Join(t.TempDir(), "b.mbtiles")
		if err := os.WriteFile(broken, bad, 0o644); err != nil {
			t.Fatal(err)
		}
		r, err := Run(t.Context(), broken, Options{})
		if err != nil && !errors.Is(err, pack.NotPack) {
			t.Errorf("at %d: %v", at, err)
		}
		if err == nil && r.Verdict == Fit && !harmless(t, path, broken) {
			t.Errorf("at %d: a pack with broken bytes is called fit", at)
		}
	}
}

// harmless tells whether the two files hold the same, so that the flipped
// bytes were in nobody's use.
func harmless(t *testing.T, a, b string) bool {
	t.Helper()
	dump := func(path string) (all []string) {
		p, err := pack.Open(t.Context(), path)
		if err != nil {
			t.Fatal(err)
		}
		defer p.Close()
		for id, err := range p.Places(t.Context()) {
			if err != nil {
				t.Fatal(err)
			}
			data, err := p.Tile(t.Context(), id)
			if err != nil {
				t.Fatal(err)
			}
			all = append(all, id.String()+string(data))
		}
		for _, o := range p.Info.Overlays {
			body, err := p.OverlayGeoJSON(t.Context(), o.ID)
			if err != nil {
				t.Fatal(err)
			}
			all = append(all, o.Title+string(body))
		}
		return append(all, string(p.Info.Area), p.Info.Name)
	}
	return strings.Join(dump(a), "|") == strings.Join(dump(b), "|")
}

// TestGently: a check beside serving says the same.
func TestGently(t *testing.T) {
	path := write(t, whole(t), about())
	fast, slow := verdict(t, path, Options{}), verdict(t, path, Options{Gently: true})
	if slow.Verdict != fast.Verdict || slow.TilesHeld != fast.TilesHeld || len(slow.Findings) != len(fast.Findings) {
		t.Errorf("gently: %+v, else %+v", slow, fast)
	}
}
