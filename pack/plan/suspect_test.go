package plan

import (
	"crypto/sha256"
	"encoding/hex"
	"image"
	"math/rand/v2"
	"testing"
	"time"

	"groundsheet/tiles"
	"groundsheet/tiles/raster"
	"groundsheet/tiles/source"
	"groundsheet/tiles/store"
	"groundsheet/tiles/store/folder"
)

// patterned is a picture of no place; the seed changes it.
func patterned(t testing.TB, seed uint64) []byte {
	t.Helper()
	rng := rand.New(rand.NewPCG(seed, 5))
	img := image.NewRGBA(image.Rect(0, 0, 256, 256))
	for i := range img.Pix {
		img.Pix[i] = uint8(rng.Uint32()) | uint8(255*(i%4/3))
	}
	data, err := raster.Encode(img, raster.PNG)
	if err != nil {
		t.Fatal(err)
	}
	return data
}

// flat is a tile of one color.
func flat(t *testing.T) []byte {
	t.Helper()
	data, err := raster.Encode(image.NewRGBA(image.Rect(0, 0, 256, 256)), raster.PNG)
	if err != nil {
		t.Fatal(err)
	}
	return data
}

var fetched = time.Date(2026, 11, 20, 8, 0, 0, 0, time.UTC)

// A shelf with pictures that stand at many places: the ones far apart are
// named, flat ones so; a few that are neighbors are not.
func TestSuspects(t *testing.T) {
	st, err := folder.Open(t.TempDir())
	if err != nil {
		t.Fatal(err)
	}
	defer st.Close()
	shelf, err := st.Shelf("town")
	if err != nil {
		t.Fatal(err)
	}
	none, sea, near := patterned(t, 1), flat(t), patterned(t, 2)
	var recs []store.Held
	put := func(x uint32, data []byte) {
		recs = append(recs, store.Held{Media: "png", Tile: tiles.Tile{ID: tiles.ID{Z: 18, X: x}, Data: data, Origin: tiles.Origin{Fetched: fetched}}})
	}
	for i := range uint32(4) {
		put(i*30, none)
		put(i*40+1, sea)
		put(i+200, near)
		put(i+300, patterned(t, uint64(i+10)))
	}
	if _, err := shelf.Keep(t.Context(), recs); err != nil {
		t.Fatal(err)
	}
	got, err := Suspects(t.Context(), source.Source{}, shelf)
	if err != nil || len(got) != 2 {
		t.Fatalf("%+v, %v", got, err)
	}
	for _, s := range got {
		want := none
		if s.Flat {
			want = sea
		}
		if sum := sha256.Sum256(want); s.SHA256 != hex.EncodeToString(sum[:]) || s.Places != 4 {
			t.Errorf("%+v", s)
		}
	}
}
