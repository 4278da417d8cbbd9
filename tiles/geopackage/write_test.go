package geopackage

import (
	"bytes"
	"os"
	"path/filepath"
	"testing"
	"time"

	"github.com/paulmach/orb"

	"groundsheet/tiles"
)

func written(t *testing.T, add func(*Writer) error) []byte {
	t.Helper()
	path := filepath.Join(t.TempDir(), "a.gpkg")
	w, err := Create(t.Context(), path, time.Date(2026, 11, 29, 22, 10, 5, 0, time.UTC))
	if err != nil {
		t.Fatal(err)
	}
	if err := add(w); err != nil {
		t.Fatal(err)
	}
	if err := w.Close(true); err != nil {
		t.Fatal(err)
	}
	data, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	return data
}

var found = Table{Name: "found_lines", Title: "Lines", Shapes: "MULTILINESTRING", System: 4326,
	Columns: []Column{{Name: "utility", About: "by the color code"}, {Name: "depth_m", Number: true}}}

func addAll(w *Writer) error {
	line := orb.MultiLineString{{{-140.4967, 40.4986}, {-140.4968, 40.4987}}}
	if err := w.Add(found, []Row{{line, []any{"water'); DROP TABLE x;--", 1.04}}, {nil, []any{nil, nil}}}); err != nil {
		return err
	}
	if err := w.Add(Table{Name: "found_unplaced", Columns: found.Columns}, []Row{{nil, []any{"gas", nil}}}); err != nil {
		return err
	}
	return w.AddTiles(Pyramid{Name: "base", Zooms: tiles.Zooms{Min: 1, Max: 2}, TileSize: 256, WebP: true}, func(yield func(tiles.Tile, error) bool) {
		_ = yield(tiles.Tile{ID: tiles.ID{Z: 1, X: 0, Y: 1}, Data: []byte("picture")}, nil)
	})
}

func TestWriteIsReadBack(t *testing.T) {
	data := written(t, addAll)
	if again := written(t, addAll); !bytes.Equal(data, again) {
		t.Error("equal content gives other bytes")
	}
	f, err := Open(data)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	layers, err := f.Layers()
	if err != nil || len(layers) != 1 || layers[0].Name != "found_lines" || layers[0].EPSG != 4326 {
		t.Fatalf("%+v, %v", layers, err)
	}
	if err := f.Describe(&layers[0]); err != nil || len(layers[0].Fields) != 2 {
		t.Errorf("%+v, %v", layers[0], err)
	}
	var id, version, tilesThere int
	if err := f.db.QueryRow(`SELECT application_id, user_version, (SELECT count(*) FROM base WHERE tile_row = 1) FROM pragma_application_id, pragma_user_version`).Scan(&id, &version, &tilesThere); err != nil || id != 0x47504B47 || version != 10300 || tilesThere != 1 {
		t.Error(id, version, tilesThere, err)
	}
	var wrong int
	if err := f.db.QueryRow(`SELECT count(*) FROM pragma_foreign_key_check`).Scan(&wrong); err != nil || wrong != 0 {
		t.Error(wrong, err)
	}
}

func TestWriteRefuses(t *testing.T) {
	point := orb.Point{0, 0}
	for name, c := range map[string]struct {
		table Table
		row   Row
	}{
		"a name":       {Table{Name: "a b"}, Row{}},
		"a column":     {Table{Name: "a", Columns: []Column{{Name: "fid"}}}, Row{nil, []any{1.0}}},
		"another kind": {Table{Name: "a", Shapes: "MULTIPOLYGON", System: 4326}, Row{point, nil}},
		"values":       {Table{Name: "a", Columns: found.Columns}, Row{nil, []any{"x"}}},
		"not a system": {Table{Name: "a", Shapes: "POINT", System: 1}, Row{point, nil}},
	} {
		t.Run(name, func(t *testing.T) {
			w, err := Create(t.Context(), filepath.Join(t.TempDir(), "a.gpkg"), time.Time{})
			if err != nil {
				t.Fatal(err)
			}
			if err := w.Add(c.table, []Row{c.row}); err == nil {
				t.Error("written")
			}
			if err := w.Close(false); err != nil {
				t.Error(err)
			}
		})
	}
}
