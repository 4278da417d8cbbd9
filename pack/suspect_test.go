package pack

import (
	"crypto/sha256"
	"encoding/hex"
	"image"
	"math/rand/v2"
	"testing"
	"time"

	"groundsheet/tiles"
	"groundsheet/tiles/measure"
	"groundsheet/tiles/raster"
	"groundsheet/tiles/source"
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

func TestDistant(t *testing.T) {
	at := func(z, x, y uint32) tiles.ID { return tiles.ID{Z: z, X: x, Y: y} }
	for name, c := range map[string]struct {
		places []tiles.ID
		want   bool
	}{
		"none":              {nil, false},
		"one":               {[]tiles.ID{at(18, 1, 1)}, false},
		"neighbours":        {[]tiles.ID{at(18, 1, 1), at(18, 2, 1), at(18, 8, 8)}, false},
		"columns far apart": {[]tiles.ID{at(18, 1, 1), at(18, 9, 1)}, true},
		"rows far apart":    {[]tiles.ID{at(18, 1, 11), at(18, 1, 3)}, true},
		"two zooms":         {[]tiles.ID{at(18, 1, 1), at(17, 1, 1)}, true},
	} {
		if got := Distant(c.places); got != c.want {
			t.Errorf("%s: %v", name, got)
		}
	}
}

// Pictures named as placeholders become holes, suspects are packed and named,
// and the pack says how long the terms let it be kept.
func TestPlaceholdersInAPack(t *testing.T) {
	h := held{}
	row := tiles.NewCover(16, []tiles.Span{{Row: 9, First: 0, Last: 19}})
	named, suspect := patterned(t, 1), patterned(t, 2)
	for id := range row.All() {
		data := patterned(t, uint64(id.X)+100)
		switch id.X % 10 {
		case 3:
			data = named
		case 7:
			data = suspect
		}
		h.put(id, data, "png")
	}
	c := content(h, row)
	sum, other := sha256.Sum256(named), sha256.Sum256(suspect)
	c.Placeholder = func(hash [32]byte) bool { return hash == sum }
	c.Suspects = []Suspect{{SHA256: hex.EncodeToString(other[:]), Places: 12, Tiles: 99}, {SHA256: "00", Places: 3}}
	c.Terms = &source.Terms{KeepAtMost: measure.Age(24 * time.Hour)}
	p, w := write(t, c)
	a := p.Info.About
	if w.Holes != 2 || w.Tiles != 18 || a.Placeholders != 2 {
		t.Errorf("%+v, %d placeholders", w, a.Placeholders)
	}
	if len(a.Suspects) != 1 || a.Suspects[0].Tiles != 2 || a.Suspects[0].Packed != a.Suspects[0].SHA256 {
		t.Errorf("%+v", a.Suspects)
	}
	if a.KeepUntil == nil || !a.KeepUntil.Equal(fetched.Add(24*time.Hour)) {
		t.Errorf("keep until %v", a.KeepUntil)
	}
	if !isHole(t, p, tiles.ID{Z: 16, X: 3, Y: 9}) {
		t.Error("the placeholder at column 3 is no hole")
	}
}
