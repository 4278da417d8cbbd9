package handover

import (
	"bytes"
	"context"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"image"
	"image/jpeg"
	"iter"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/paulmach/orb"

	"groundsheet/pack"
	"groundsheet/pack/fieldbook"
	"groundsheet/pack/record"
	"groundsheet/tiles"
	"groundsheet/tiles/area"
	"groundsheet/tiles/geodesic"
	"groundsheet/tiles/raster"
	"groundsheet/tiles/store"
)

var noon = time.Date(2031, 5, 6, 12, 0, 0, 0, time.UTC)

func idOf(name string) string {
	sum := sha256.Sum256([]byte(name))
	return hex.EncodeToString(sum[:16])
}

// mark is what a phone sends.
type mark struct {
	name, after, action, who string
	minutes                  int
	geometry                 string
	properties               map[string]any
}

func (m mark) text(t testing.TB) []byte {
	t.Helper()
	e := map[string]any{
		"layout": 1, "id": idOf(m.name), "mark": idOf(m.name), "action": "write", "who": "Ada", "phone": idOf("phone"),
		"clock": noon.Add(time.Duration(m.minutes) * time.Minute).Format("2006-01-02T15:04:05.000Z"), "clock_ahead_s": 1.5,
	}
	if m.after != "" {
		e["mark"], e["after"] = idOf(m.after), []string{idOf(m.after)}
	}
	if m.who != "" {
		e["who"] = m.who
	}
	if m.action != "" {
		e["action"], e["why"] = m.action, "a slip"
	} else {
		e["feature"] = map[string]any{"type": "Feature", "geometry": json.RawMessage(m.geometry), "properties": m.properties}
	}
	text, err := json.Marshal(e)
	if err != nil {
		t.Fatal(err)
	}
	return text
}

// picture is a photo, and its hash.
func picture(t testing.TB) ([]byte, string) {
	t.Helper()
	var out bytes.Buffer
	if err := jpeg.Encode(&out, image.NewRGBA(image.Rect(0, 0, 40, 30)), nil); err != nil {
		t.Fatal(err)
	}
	sum := sha256.Sum256(out.Bytes())
	return out.Bytes(), hex.EncodeToString(sum[:])
}

// hostile are texts that act somewhere.
const hostile = "=HYPERLINK(\"http://x\",\"a\")<script>alert(1)</script>]]>&amp;' \"\r\n\t\u202e\x07水\ufffe %%u ^J \\P"

// marks are one of every kind, near 40.4986 north and 140.4967 west.
func marks(t testing.TB) []mark {
	_, photo := picture(t)
	run := idOf("run")
	position := map[string]any{"from": "receiver", "kind": "RTK fixed", "satellites": 12, "hdop": 0.8, "error_m": 0.03, "stated_m": 0.02,
		"grounds": "stated by the receiver", "corrections_s": 1, "station": "0042", "antenna_height_m": nil, "frame": "NAD83(2011)", "recorded": false,
		"averaged_s": 5, "averaged_n": 5, "spread_m": 0.01, "receiver_time": "2031-05-06T12:00:00Z", "ahead_s": 0.2}
	return []mark{
		{name: "r1", geometry: `{"type":"Point","coordinates":[-140.4967104,40.4986003]}`, properties: map[string]any{
			"kind": "reading", "utility": "water", "line": run, "depth_m": 1.02, "depth_as_typed": "3 ft 4 in", "depth_reference": "center",
			"method": "signal", "frequency_hz": 8192, "current_ma": 12, "quality_level": "B", "position": position,
			"photos":     []any{map[string]any{"hash": photo, "type": "image/jpeg", "bytes": 700, "taken": "2031-05-06T11:59:00Z", "direction_deg": 271.5, "lat": nil}, map[string]any{"hash": strings.Repeat("ab", 32), "type": "image/png", "bytes": 9}},
			"instrument": map[string]any{"line": "depth=1.02;f=8192", "received": "2031-05-06T12:00:00Z"}}},
		{name: "r2", minutes: 1, geometry: `{"type":"Point","coordinates":[-140.4967101,40.4986903]}`, properties: map[string]any{
			"kind": "reading", "utility": "water", "line": run, "quality_level": "C", "method": "signal", "position": map[string]any{"from": "cross"}}},
		{name: "line", minutes: 2, geometry: `{"type":"MultiLineString","coordinates":[[[-140.4968,40.4986],[-140.4966,40.4987]],[[-140.4965,40.4987],[-140.4964,40.4988]]]}`,
			properties: map[string]any{"kind": "line", "utility": "electric", "label": "12 kV", "note": hostile}},
		{name: "area", minutes: 3, geometry: `{"type":"Polygon","coordinates":[[[-140.4968,40.4986],[-140.4967,40.4986],[-140.4967,40.4987],[-140.4968,40.4986]]]}`,
			properties: map[string]any{"kind": "area", "utility": "communication", "owner": strings.Repeat("水", 100)}},
		{name: "nothing", minutes: 4, geometry: `{"type":"Polygon","coordinates":[[[-140.4969,40.4986],[-140.4968,40.4986],[-140.4968,40.4987],[-140.4969,40.4986]]]}`,
			properties: map[string]any{"kind": "nothing found", "utility": "gas", "method": "signal, passive"}},
		{name: "where", minutes: 5, geometry: `null`, properties: map[string]any{"kind": "unlocatable", "utility": "sewer", "reason": "plastic, no wire"}},
		{name: "hole", minutes: 6, geometry: `{"type":"Point","coordinates":[-140.4967,40.49865]}`, properties: map[string]any{
			"kind": "test hole", "utility": "water", "depth_m": 1.05, "quality_level": "A", "depth_reference": "top"}},
		{name: "lid", minutes: 7, geometry: `{"type":"Point","coordinates":[-140.49665,40.49866]}`, properties: map[string]any{
			"kind": "surface feature", "utility": "water", "label": "+valve lid"}},
		{name: "wrong", minutes: 8, geometry: `{"type":"Point","coordinates":[-140.4,40.4]}`, properties: map[string]any{"kind": "reading", "utility": "gas"}},
		{name: "struck", after: "wrong", minutes: 9, action: "strike"},
		{name: "both", minutes: 10, geometry: `{"type":"Point","coordinates":[-140.49661,40.49861]}`, properties: map[string]any{"kind": "reading", "utility": "gas", "depth_m": 0.8}},
		{name: "both2", after: "both", minutes: 11, geometry: `{"type":"Point","coordinates":[-140.49662,40.49861]}`, properties: map[string]any{"kind": "reading", "utility": "gas", "depth_m": 0.9}},
		{name: "both3", after: "both", minutes: 12, who: "Bo", geometry: `{"type":"Point","coordinates":[-140.49663,40.49861]}`, properties: map[string]any{"kind": "reading", "utility": "gas", "depth_m": 1}},
	}
}

// bookOf makes a book.
func bookOf(t testing.TB, all []mark) string {
	t.Helper()
	path := filepath.Join(t.TempDir(), "valve-12.fieldbook")
	b, err := fieldbook.Open(path, fieldbook.About{Name: "Valve 12", Seal: "abc"}, fieldbook.Options{Now: func() time.Time { return noon.Add(time.Hour) }})
	if err != nil {
		t.Fatal(err)
	}
	var texts [][]byte
	for _, m := range all {
		texts = append(texts, m.text(t))
	}
	receipts, err := b.Append(t.Context(), fieldbook.Sender{Session: "s", Role: "mark"}, texts)
	if err != nil {
		t.Fatal(err)
	}
	for i, r := range receipts {
		if r.Refused != "" {
			t.Fatalf("%s: %s", all[i].name, r.Refused)
		}
	}
	data, hash := picture(t)
	if _, err := b.AddPiece(t.Context(), fieldbook.Piece{Hash: hash, Type: "image/jpeg", Of: int64(len(data)), Data: data}); err != nil {
		t.Fatal(err)
	}
	if err := b.Close(); err != nil {
		t.Fatal(err)
	}
	return path
}

func distance(a, b orb.Point) float64 { return geodesic.Distance(a, b) }

// gray holds the same tile everywhere.
type gray struct{ png []byte }

func (g gray) In(_ context.Context, c tiles.Cover, _ bool) iter.Seq2[store.Held, error] {
	return func(yield func(store.Held, error) bool) {
		for id := range c.All() {
			h := store.Held{Tile: tiles.Tile{ID: id, Data: g.png}, Hash: sha256.Sum256(g.png), Bytes: len(g.png), Media: "png"}
			if !yield(h, nil) {
				return
			}
		}
	}
}

// packOf is a pack of the place of the marks, with a record.
func packOf(t testing.TB) *pack.Pack {
	t.Helper()
	png, err := raster.Encode(image.NewGray(image.Rect(0, 0, 256, 256)), raster.PNG)
	if err != nil {
		t.Fatal(err)
	}
	whole, err := area.Around(40.49865, -140.49668, 30)
	if err != nil {
		t.Fatal(err)
	}
	ground := pack.NewGround(whole, whole.Outline(0), 5)
	outline, err := ground.GeoJSON()
	if err != nil {
		t.Fatal(err)
	}
	b := ground.Margin.Bound()
	box := tiles.Box{West: b.Left(), South: b.Bottom(), East: b.Right(), North: b.Top()}
	var covers []tiles.Cover
	for zoom := 17; zoom <= 19; zoom++ {
		l := box.Limit(zoom)
		var spans []tiles.Span
		for row := l.MinRow; row <= l.MaxRow; row++ {
			spans = append(spans, tiles.Span{Row: row, First: l.MinCol, Last: l.MaxCol})
		}
		covers = append(covers, tiles.NewCover(zoom, spans))
	}
	line := `{"type":"FeatureCollection","features":[{"type":"Feature","properties":{"size":"6 in","depth":"41in","crew":7},"geometry":{"type":"LineString","coordinates":[[-140.4968,40.4986],[-140.4966,40.4986]]}},
		{"type":"Feature","properties":{"mark":"` + idOf("r1") + `"},"geometry":{"type":"Point","coordinates":[-140.4967104,40.4986003]}}]}`
	old, err := record.Read([]byte(line), record.Meta{File: "water.geojson", Utility: "water", Datum: "NAD83"}, "w")
	if err != nil {
		t.Fatal(err)
	}
	overlays, err := pack.Overlays([]record.Overlay{old}, box)
	if err != nil {
		t.Fatal(err)
	}
	path := filepath.Join(t.TempDir(), "valve-12.mbtiles")
	about := pack.About{Name: "Valve 12", Units: "us", TileSize: 256, Packed: noon, Source: pack.AboutSource{Name: "gray", Attribution: "nobody", CopiesOnPhones: "allowed"}}
	c := pack.Content{About: about, Bounds: box, Covers: covers, Tiles: gray{png}, Area: outline, Overlays: overlays}
	if _, err := pack.Write(t.Context(), path, c, pack.WriteOptions{}); err != nil {
		t.Fatal(err)
	}
	p, err := pack.Open(t.Context(), path)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { _ = p.Close() })
	return p
}
