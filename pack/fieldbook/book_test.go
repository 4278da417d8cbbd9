package fieldbook

import (
	"bytes"
	"context"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"errors"
	"fmt"
	"image"
	"maps"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/paulmach/orb"

	"groundsheet/tiles/raster"
)

var noon = time.Date(2031, 5, 6, 12, 0, 0, 0, time.UTC)

// idOf makes an ID of a name.
func idOf(name string) string {
	sum := sha256.Sum256([]byte(name))
	return hex.EncodeToString(sum[:16])
}

// entry is the text of an entry in the making.
type entry map[string]any

// reading is the first entry of a mark.
func reading(name string) entry {
	return entry{
		"layout": 1, "id": idOf(name), "mark": idOf(name), "after": []string{}, "action": "write", "who": "Ada",
		"phone": idOf("phone"), "clock": stamp(noon), "clock_ahead_s": 0, "feature": map[string]any{
			"type": "Feature", "geometry": map[string]any{"type": "Point", "coordinates": []float64{-105.0005, 40.0005}},
			"properties": map[string]any{"kind": "reading", "utility": "water", "depth_m": 1.02, "quality_level": "B", "method": "signal"},
		},
	}
}

// with changes a member, of the feature's properties when the name begins with a dot.
func (e entry) with(name string, v any) entry {
	out := entry{}
	for k, v := range e {
		out[k] = v
	}
	if property, is := strings.CutPrefix(name, "."); is {
		f := map[string]any{}
		for k, v := range out["feature"].(map[string]any) {
			f[k] = v
		}
		p := map[string]any{}
		for k, v := range f["properties"].(map[string]any) {
			p[k] = v
		}
		p[property] = v
		f["properties"], out["feature"] = p, f
		return out
	}
	out[name] = v
	return out
}

// then is a later entry of the same mark.
func (e entry) then(name string, action Action, after ...entry) entry {
	var ids []string
	for _, a := range after {
		ids = append(ids, a["id"].(string))
	}
	out := e.with("id", idOf(name)).with("after", ids).with("action", string(action))
	if action != Write {
		out = out.with("feature", nil).with("why", "a mistake")
	}
	return out
}

func (e entry) at(t time.Time) entry { return e.with("clock", stamp(t)) }

func (e entry) text(t testing.TB) []byte {
	t.Helper()
	text, err := json.Marshal(e)
	if err != nil {
		t.Fatal(err)
	}
	return text
}

func opened(t testing.TB, path string, o Options) *Book {
	t.Helper()
	b, err := Open(path, About{Name: "Larkwater", Number: "7", Seal: "abc", Program: "test"}, o)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { _ = b.Close() })
	return b
}

func appended(t testing.TB, b *Book, all ...entry) []Receipt {
	t.Helper()
	texts := make([][]byte, len(all))
	for i, e := range all {
		texts[i] = e.text(t)
	}
	receipts, err := b.Append(t.Context(), Sender{"s", "mark"}, texts)
	if err != nil {
		t.Fatal(err)
	}
	return receipts
}

func whole(t testing.TB, b *Book) Verification {
	t.Helper()
	v, err := b.Verify(context.Background())
	if err != nil || !v.Whole() {
		t.Fatalf("%v, %v", v.Faults, err)
	}
	return v
}

func TestAppend(t *testing.T) {
	path := filepath.Join(t.TempDir(), "a b?.fieldbook")
	b := opened(t, path, Options{})
	if r := appended(t, b, reading("bad").with("layout", 2)); r[0].Refused == "" || r[0].ID != idOf("bad") {
		t.Errorf("%+v", r)
	}
	if _, err := os.Stat(path); err == nil {
		t.Fatal("the book was made without an entry")
	}
	one := reading("one")
	first := appended(t, b, one, reading("bad").with("action", "remove"), reading("two"))
	if first[0].Number != 1 || first[1].Refused == "" || first[2].Number != 2 || first[0].Refused != "" {
		t.Fatalf("%+v", first)
	}
	again := appended(t, b, reading("two"), one, one.with("who", "Eve"), reading("three"))
	if again[0] != first[2] || again[1] != first[0] || again[2].Refused == "" || again[3].Number != 3 {
		t.Errorf("sent again: %+v", again)
	}
	if err := b.Close(); err != nil {
		t.Fatal(err)
	}
	if left, err := os.ReadDir(filepath.Dir(path)); err != nil || len(left) != 1 {
		t.Errorf("beside the book: %v, %v", left, err)
	}
	b = opened(t, path, Options{})
	if n, err := b.Latest(t.Context()); n != 3 || err != nil {
		t.Errorf("%d, %v", n, err)
	}
	all, err := b.Entries(t.Context(), 1, 1)
	if err != nil || len(all) != 1 || !bytes.Equal(all[0].Text, reading("two").text(t)) || all[0].Before != first[0].Hash || all[0].Session != "s" {
		t.Errorf("%+v, %v", all, err)
	}
	if v := whole(t, b); v.Entries != 3 || v.Marks != 3 {
		t.Errorf("%+v", v)
	}
}

// TestOneWriter: a second server is told who writes, and may read.
func TestOneWriter(t *testing.T) {
	path := filepath.Join(t.TempDir(), "a.fieldbook")
	first, second := opened(t, path, Options{}), opened(t, path, Options{})
	appended(t, first, reading("one"))
	if _, err := second.Append(t.Context(), Sender{}, [][]byte{reading("two").text(t)}); !errors.Is(err, Busy) || !strings.Contains(err.Error(), "groundsheet serve (") {
		t.Errorf("%v", err)
	}
	r, err := Read(path)
	if err != nil {
		t.Fatal(err)
	}
	defer r.Close()
	if v := whole(t, r); v.Entries != 1 {
		t.Errorf("%+v", v)
	}
	if _, err := r.Append(t.Context(), Sender{}, [][]byte{reading("two").text(t)}); !errors.Is(err, ReadOnly) {
		t.Errorf("a book that is read was written: %v", err)
	}
	if err := first.Close(); err != nil {
		t.Fatal(err)
	}
	appended(t, second, reading("two"))
	if v := whole(t, r); v.Entries != 2 {
		t.Errorf("%+v", v)
	}
}

// TestFolderIsClosed: a folder that cannot be written is told before anybody marks.
func TestFolderIsClosed(t *testing.T) {
	path := filepath.Join(t.TempDir(), "none", "a.fieldbook")
	if _, err := Open(path, About{}, Options{}); !errors.Is(err, Denied) || !strings.Contains(err.Error(), "--fieldbook") {
		t.Errorf("%v", err)
	}
}

func TestOnlyGrows(t *testing.T) {
	path := filepath.Join(t.TempDir(), "a.fieldbook")
	b := opened(t, path, Options{})
	appended(t, b, reading("one"))
	for _, query := range []string{`UPDATE entry SET text = ''`, `DELETE FROM entry`, `DELETE FROM about`, `UPDATE about SET value = ''`} {
		if _, err := b.db.Exec(query); err == nil || !strings.Contains(err.Error(), "only grows") {
			t.Errorf("%s: %v", query, err)
		}
	}
}

func TestVerifyFindsChanges(t *testing.T) {
	for name, query := range map[string]string{
		"text":     `UPDATE entry SET text = replace(text, '1.02', '2.02') WHERE number = 2`,
		"received": `UPDATE entry SET received = '2031-05-06T12:00:00.001Z' WHERE number = 2`,
		"role":     `UPDATE entry SET role = 'look' WHERE number = 1`,
		"removed":  `DELETE FROM entry WHERE number = 2`,
		"about":    `UPDATE about SET value = 'other' WHERE key = 'name'`,
		"hash":     `UPDATE entry SET hash = before WHERE number = 3`,
		"mark":     `UPDATE entry SET mark = id || 'a' WHERE number = 3`,
	} {
		path := filepath.Join(t.TempDir(), "a.fieldbook")
		b := opened(t, path, Options{})
		appended(t, b, reading("one"), reading("two"), reading("three"))
		for _, trigger := range []string{"entry_changed", "entry_removed", "about_changed"} {
			if _, err := b.db.Exec("DROP TRIGGER " + trigger); err != nil {
				t.Fatal(err)
			}
		}
		if _, err := b.db.Exec(query); err != nil {
			t.Fatal(err)
		}
		if v, err := b.Verify(t.Context()); err != nil || v.Whole() {
			t.Errorf("%s: %v, %v", name, v, err)
		}
		if err := b.Close(); err != nil {
			t.Fatal(err)
		}
		if _, err := Open(path, About{}, Options{}); !errors.Is(err, NotBook) {
			t.Errorf("%s: a book without its triggers was opened: %v", name, err)
		}
	}
}

func TestRefusedTexts(t *testing.T) {
	good := reading("one")
	for name, text := range map[string][]byte{
		"empty":       nil,
		"array":       []byte("[]"),
		"cut":         good.text(t)[:100],
		"more":        append(good.text(t), " {}"...),
		"twice":       bytes.Replace(good.text(t), []byte(`"layout"`), []byte(`"id":"`+idOf("x")+`","layout"`), 1),
		"bytes":       bytes.Replace(good.text(t), []byte("Ada"), []byte("\xff"), 1),
		"no number":   bytes.Replace(good.text(t), []byte("1.02"), []byte("NaN"), 1),
		"infinite":    bytes.Replace(good.text(t), []byte("1.02"), []byte("1e999"), 1),
		"deep":        bytes.Replace(good.text(t), []byte("1.02"), []byte(strings.Repeat("[", 50)+strings.Repeat("]", 50)), 1),
		"long":        good.with(".note", strings.Repeat("x", MaxText)).text(t),
		"case":        bytes.Replace(good.text(t), []byte(`"id"`), []byte(`"ID"`), 1),
		"layout":      good.with("layout", 2).text(t),
		"id":          good.with("id", "x").text(t),
		"no phone":    good.with("phone", nil).text(t),
		"first":       good.with("after", []string{idOf("x")}).text(t),
		"after":       good.with("mark", idOf("x")).text(t),
		"itself":      good.with("mark", idOf("x")).with("after", []string{idOf("one")}).text(t),
		"no why":      good.then("two", Strike, good).with("why", "").text(t),
		"clock":       good.with("clock", "noon").text(t),
		"ahead":       good.with("clock_ahead_s", 1e300).text(t),
		"kind":        good.with(".kind", "wish").text(t),
		"utility":     good.with(".utility", "beer").text(t),
		"depth":       good.with(".depth_m", -1).text(t),
		"deep ground": good.with(".depth_m", 101).text(t),
		"depth text":  good.with(".depth_m", "1").text(t),
		"line":        good.with(".line", "a").text(t),
		"level":       good.with(".quality_level", "E").text(t),
		"raised":      good.with(".quality_level", "A").text(t),
		"paint":       good.with(".method", "Paint marks").text(t),
		"told":        good.with(".method", "told by somebody").with(".quality_level", "C").text(t),
		"seen":        good.with(".kind", "surface feature").text(t),
		"blank":       good.with(".utility", "water ").text(t),
		"kind blank":  good.with(".kind", " reading").text(t),
		"list":        good.with(".kind", []string{"reading"}).text(t),
		"photo":       good.with(".photos", []any{map[string]any{"hash": "x"}}).text(t),
		"svg":         good.with(".photos", []any{map[string]any{"hash": hashOf(nil), "type": "image/svg+xml", "bytes": 5}}).text(t),
		"position":    good.with(".position", map[string]any{"from": "dream"}).text(t),
		"no place":    good.with("feature", map[string]any{"type": "Feature", "geometry": nil, "properties": map[string]any{"kind": "reading", "utility": "gas"}}).text(t),
		"nothing":     good.with("feature", nil).text(t),
		"world":       bytes.Replace(good.text(t), []byte("-105.0005"), []byte("-205.0005"), 1),
	} {
		if _, err := Parse(text); err == nil {
			t.Errorf("%s: taken: %s", name, text)
		}
	}
	for name, e := range map[string]entry{
		"as it is": good, "later": good.then("two", Strike, good), "restored": good.then("two", Restore, good),
		"test hole":   good.with(".kind", "test hole").with(".quality_level", "A"),
		"painted":     good.with(".method", "paint").with(".quality_level", "D"),
		"no clock":    good.with("clock_ahead_s", nil),
		"unknown":     good.with("hat", "red"),
		"script":      good.with(".note", `<script>alert(1)</script>`),
		"unlocatable": good.with("feature", map[string]any{"type": "Feature", "geometry": nil, "properties": map[string]any{"kind": "unlocatable", "utility": "gas", "reason": "no signal"}}),
	} {
		if _, err := Parse(e.text(t)); err != nil {
			t.Errorf("%s: %v", name, err)
		}
	}
}

func TestFarFromTheMap(t *testing.T) {
	b := opened(t, filepath.Join(t.TempDir(), "a.fieldbook"), Options{Area: orb.Bound{Min: orb.Point{-104.5, 40}, Max: orb.Point{-104.49, 40.01}}})
	near := reading("near")
	near["feature"].(map[string]any)["geometry"] = map[string]any{"type": "Point", "coordinates": []float64{-105, 40}}
	swapped := reading("swapped")
	swapped["feature"].(map[string]any)["geometry"] = map[string]any{"type": "Point", "coordinates": []float64{40, -89}}
	if r := appended(t, b, near, swapped); r[0].Refused != "" || !strings.Contains(r[1].Refused, "50 km") {
		t.Errorf("%+v", r)
	}
}

// pictured is a picture and its hash.
func pictured(t testing.TB, kind raster.Kind) ([]byte, string) {
	t.Helper()
	img := image.NewRGBA(image.Rect(0, 0, 900, 700))
	for i := range img.Pix {
		img.Pix[i] = byte(i*i>>3) | 1
	}
	data, err := raster.Encode(img, kind)
	if err != nil {
		t.Fatal(err)
	}
	return data, hashOf(data)
}

func TestPhotoInPieces(t *testing.T) {
	data, hash := pictured(t, raster.JPG)
	path := filepath.Join(t.TempDir(), "a.fieldbook")
	b := opened(t, path, Options{})
	const piece = 20_000
	if len(data) < 3*piece {
		t.Fatalf("the picture has %d bytes", len(data))
	}
	send := func(at, to int) Stored {
		t.Helper()
		s, err := b.AddPiece(t.Context(), Piece{hash, "image/jpeg", int64(len(data)), int64(at), data[at:to]})
		if err != nil {
			t.Fatal(err)
		}
		return s
	}
	for _, c := range []struct{ at, to, have int }{
		{piece, 2 * piece, 0}, {0, piece, piece}, {0, piece, piece}, {3 * piece, 3*piece + 1, piece}, {piece / 2, 2 * piece, 2 * piece},
	} {
		if s := send(c.at, c.to); s != (Stored{int64(c.have), false}) {
			t.Fatalf("%v: %+v", c, s)
		}
	}
	if got, _, err := b.Photo(t.Context(), hash); got != nil || err != nil {
		t.Errorf("half a photo: %d bytes, %v", len(got), err)
	}
	if err := b.Close(); err != nil {
		t.Fatal(err)
	}
	b = opened(t, path, Options{})
	s, err := b.Have(t.Context(), hash)
	for ; err == nil && !s.Done; s = send(int(s.Have), min(int(s.Have)+piece, len(data))) {
	}
	got, media, err := b.Photo(t.Context(), hash)
	if err != nil || media != "image/jpeg" || !bytes.Equal(got, data) {
		t.Errorf("%d bytes, %s, %v", len(got), media, err)
	}
	if s := send(0, piece); !s.Done {
		t.Errorf("after the end: %+v", s)
	}
	if _, err := b.db.Exec(`DELETE FROM piece`); err == nil {
		t.Error("a proved photo was removed")
	}
	if v := whole(t, b); v.Photos != 1 {
		t.Errorf("%+v", v)
	}
}

func TestBadPhotos(t *testing.T) {
	jpg, hash := pictured(t, raster.JPG)
	png, pngHash := pictured(t, raster.PNG)
	svg := []byte(`<svg xmlns="http://www.w3.org/2000/svg"><script>1</script></svg>`)
	bomb := bytes.Clone(png)
	copy(bomb[16:24], "\x00\x00\xff\xff\x00\x00\xff\xff")
	huge := bytes.Clone(jpg)
	frame := bytes.Index(huge, []byte{0xff, 0xc0}) // the frame header: 60,000 × 60,000 pixels from now on
	copy(huge[frame+5:], "\xea\x60\xea\x60")
	for name, p := range map[string]Piece{
		"huge":         {hashOf(huge), "image/jpeg", 0, 0, huge},
		"svg as png":   {hashOf(svg), "image/png", int64(len(svg)), 0, svg},
		"svg":          {hashOf(svg), "image/svg+xml", int64(len(svg)), 0, svg},
		"other type":   {hash, "image/png", 0, 0, jpg},
		"cut":          {hashOf(jpg[:len(jpg)-9]), "image/jpeg", 0, 0, jpg[:len(jpg)-9]},
		"another name": {pngHash, "image/jpeg", 0, 0, jpg},
		"bomb":         {hashOf(bomb), "image/png", 0, 0, bomb},
		"no name":      {"x", "image/jpeg", 0, 0, jpg},
	} {
		b := opened(t, filepath.Join(t.TempDir(), "a.fieldbook"), Options{})
		p.Of = int64(len(p.Data))
		var err error
		for at := 0; at < len(p.Data) && err == nil; at += MaxPiece {
			piece := p
			piece.At, piece.Data = int64(at), p.Data[at:min(at+MaxPiece, len(p.Data))]
			_, err = b.AddPiece(t.Context(), piece)
		}
		if !errors.Is(err, BadPhoto) {
			t.Errorf("%s: %v", name, err)
		}
		if s, err := b.Have(t.Context(), p.Hash); err != nil || s != (Stored{}) {
			t.Errorf("%s: it stays: %+v, %v", name, s, err)
		}
	}
}

func TestMarks(t *testing.T) {
	b := opened(t, filepath.Join(t.TempDir(), "a.fieldbook"), Options{})
	one, gone, back := reading("one"), reading("gone").at(noon.Add(time.Minute)), reading("back").at(noon.Add(2*time.Minute))
	struck := gone.then("gone 2", Strike, gone)
	undone := back.then("back 2", Strike, back)
	left := one.then("left", Write, one).with(".depth_m", 1.5).at(noon.Add(time.Hour))
	right := one.then("right", Write, one).with(".depth_m", 2.5).at(noon.Add(3*time.Hour)).with("clock_ahead_s", 7190)
	appended(t, b, one, gone, back, struck, undone, back.then("back 3", Restore, undone), right, left)
	marks, err := b.Marks(t.Context())
	if err != nil || len(marks) != 3 {
		t.Fatalf("%d marks, %v", len(marks), err)
	}
	say := func(m Mark) string {
		return fmt.Sprintf("%s by %s, %d rivals, struck %v, %v m", m.Kind(), m.Leading.Text.Action, len(m.Rivals), m.Struck, m.Feature.Properties["depth_m"])
	}
	for i, want := range []string{
		"reading by write, 1 rivals, struck false, 2.5 m", "reading by strike, 0 rivals, struck true, 1.02 m",
		"reading by restore, 0 rivals, struck false, 1.02 m",
	} {
		if got := say(marks[i]); got != want {
			t.Errorf("mark %d: %s, want %s", i, got, want)
		}
	}
	overlays := Overlays(marks)
	if len(overlays) != 1 || len(overlays[0].Features) != 2 || overlays[0].Kind.Code != "water" || overlays[0].Features[0].Properties["rivals"] != 1.0 {
		t.Errorf("%+v", overlays)
	}
}

// TestPositionOfElsewhere: what a receiver said of another time or place is no accuracy of
// a mark, also in books of phones that wrote it as one.
func TestPositionOfElsewhere(t *testing.T) {
	for name, c := range map[string]struct {
		position map[string]any
		want     any
	}{
		"live":                {map[string]any{"age_s": 0.4}, 0.06},
		"age not told":        {nil, 0.06},
		"just live":           {map[string]any{"age_s": 30}, 0.06},
		"old":                 {map[string]any{"age_s": 720.5}, nil},
		"of unknown age":      {map[string]any{"age_s": nil}, nil},
		"recorded":            {map[string]any{"age_s": 0.4, "recorded": true}, nil},
		"from no satellites":  {map[string]any{"kind": "simulator"}, nil},
		"typed, nothing more": {map[string]any{"from": "typed", "recorded": true}, 0.06},
	} {
		position := map[string]any{"from": "receiver", "kind": "rtk-fixed", "error_m": 0.06, "stated_m": 0.05}
		maps.Copy(position, c.position)
		text := reading("one").with(".position", position).with(".accuracy_m", 0.01).text(t)
		f := Overlays(Fold([]Entry{{ID: idOf("one"), Text: text}}))[0].Features[0]
		if got := f.Properties["accuracy_m"]; got != c.want {
			t.Errorf("%s: %v, want %v", name, got, c.want)
		}
	}
}

// TestAnothersMark: whoever may mark may write a later entry of any mark; who wrote what
// stays, and an ID is nobody else's.
func TestAnothersMark(t *testing.T) {
	b := opened(t, filepath.Join(t.TempDir(), "a.fieldbook"), Options{})
	ada, eve := Sender{"ada's phone", "mark"}, Sender{"eve's phone", "mark"}
	send := func(from Sender, e entry) Receipt {
		t.Helper()
		r, err := b.Append(t.Context(), from, [][]byte{e.text(t)})
		if err != nil {
			t.Fatal(err)
		}
		return r[0]
	}
	one := reading("one")
	send(ada, one)
	later := one.then("later", Write, one).with("who", "Eve").with(".depth_m", 9).at(noon.Add(time.Minute))
	if r := send(eve, later); r.Refused != "" {
		t.Error(r)
	}
	for name, e := range map[string]entry{
		"the same ID":             one.with("who", "Eve"),
		"a later entry as a mark": later.then("x", Write, later).with("mark", idOf("later")),
		"a later entry's ID anew": reading("later"),
	} {
		if r := send(eve, e); r.Refused == "" {
			t.Errorf("%s: %+v", name, r)
		}
	}
	marks, err := b.Marks(t.Context())
	if err != nil || len(marks) != 1 || len(marks[0].All) != 2 {
		t.Fatalf("%+v, %v", marks, err)
	}
	for i, want := range []string{"ada's phone Ada", "eve's phone Eve"} {
		if v := marks[0].All[i]; v.Session+" "+v.Text.Who != want {
			t.Errorf("%s %s, want %s", v.Session, v.Text.Who, want)
		}
	}
	whole(t, b)
}
