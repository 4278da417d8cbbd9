package vectorbase_test

import (
	"errors"
	"path/filepath"
	"testing"

	"groundsheet/pack"
	"groundsheet/pack/vectorbase"
	"groundsheet/tiles"
	"groundsheet/tiles/mvt"
	"groundsheet/tiles/source"
	"groundsheet/tiles/sqlite"
)

// TestPicture: a tile shows the layers that are to be drawn, of the shapes with the
// wanted values, where they are; a damaged one is told.
func TestPicture(t *testing.T) {
	db := sqlite.OpenUntrusted(filepath.Join("..", "..", "tiles", "mvt", "testdata", "town.mbtiles"), sqlite.Untrusted{Longest: 1 << 20})
	defer db.Close()
	id := tiles.ID{Z: 14, X: 3557, Y: 6477}
	var data []byte
	if err := db.QueryRow(`SELECT tile_data FROM tiles WHERE zoom_level=14 AND tile_column=? AND tile_row=?`, id.X, id.TMSRow()).Scan(&data); err != nil {
		t.Fatal(err)
	}
	all := []pack.Drawn{{Role: source.RoleStreet, Layers: []string{"roads"}, Name: "FULLNAME"}}
	shapes, err := vectorbase.Shapes(all, id, data)
	if err != nil {
		t.Fatal(err)
	}
	some := []pack.Drawn{{Role: source.RoleStreet, Layers: []string{"roads"}, Only: map[string][]string{"CLASS": {"2"}}}}
	fewer, err := vectorbase.Shapes(some, id, data)
	if err != nil || len(fewer) == 0 || len(fewer) >= len(shapes) {
		t.Errorf("%v: %d of %d shapes have the wanted value", err, len(fewer), len(shapes))
	}
	for _, s := range shapes {
		west, north := tiles.Unproject(s.Geometry.Bound().Min[0], s.Geometry.Bound().Min[1])
		if west < -101.8305 || west > -101.8255 || north < 35.2090 || north > 35.2145 || s.Name == "" {
			t.Errorf("%q at %.5f, %.5f", s.Name, north, west)
		}
	}
	img, err := vectorbase.Picture(all, id, data, 512)
	if err != nil || img.Rect.Dx() != 512 {
		t.Fatal(err)
	}
	if _, err := vectorbase.Picture(all, id, data[:100], 512); !errors.Is(err, mvt.Broken) {
		t.Errorf("%v", err)
	}
}
