package store

import (
	"crypto/sha256"
	"math/rand/v2"
	"slices"
	"testing"

	"groundsheet/tiles"
)

// Covers come back as they were.
func TestCoversText(t *testing.T) {
	rng := rand.New(rand.NewPCG(1, 2))
	for range 200 {
		var covers []tiles.Cover
		for range rng.IntN(4) {
			zoom := rng.IntN(tiles.MaxZoom + 1)
			var spans []tiles.Span
			for range rng.IntN(5) {
				first := rng.Uint32N(1 << zoom)
				spans = append(spans, tiles.Span{Row: rng.Uint32N(1 << zoom), First: first, Last: first + rng.Uint32N(9)})
			}
			covers = append(covers, tiles.NewCover(zoom, spans))
		}
		text, err := CoversText(covers)
		if err != nil {
			t.Fatal(err)
		}
		back, err := ReadCovers(text)
		if err != nil || len(back) != len(covers) {
			t.Fatalf("%s: %v", text, err)
		}
		for i, c := range covers {
			if back[i].Zoom() != c.Zoom() || !slices.Equal(back[i].Spans(), c.Spans()) {
				t.Fatalf("%s became %+v", text, back[i])
			}
		}
	}
}

func FuzzReadCovers(f *testing.F) {
	f.Add([]byte(`[{"zoom":3,"spans":[[1,2,3]]}]`))
	f.Add([]byte(`[{"zoom":99,"spans":[[4294967295,4294967295,0]]}]`))
	f.Add([]byte(`{}`))
	f.Fuzz(func(t *testing.T, text []byte) {
		covers, err := ReadCovers(text)
		if err != nil {
			return
		}
		for _, c := range covers {
			for _, s := range c.Spans() {
				if !(tiles.ID{Z: uint32(c.Zoom()), X: s.Last, Y: s.Row}).Valid() || s.First > s.Last {
					t.Fatalf("%+v of zoom %d", s, c.Zoom())
				}
			}
		}
	})
}

func TestChecked(t *testing.T) {
	image := Held{Tile: tiles.Tile{ID: tiles.ID{Z: 1}, Data: []byte("x")}, Media: "png"}
	r, err := Checked(image)
	if err != nil || r.Hash != sha256.Sum256([]byte("x")) || r.Bytes != 1 {
		t.Errorf("%+v, %v", r, err)
	}
	hole := Held{Tile: tiles.Tile{ID: tiles.ID{Z: 1}}, Hole: true, Media: "png", Bytes: 7}
	if r, err := Checked(hole); err != nil || r.Media != "" || r.Bytes != 0 {
		t.Errorf("%+v, %v", r, err)
	}
	for name, bad := range map[string]Held{
		"no such tile":         {Tile: tiles.Tile{ID: tiles.ID{Z: 1, X: 2}, Data: []byte("x")}},
		"a hole with an image": {Tile: tiles.Tile{Data: []byte("x")}, Hole: true},
		"no image":             {},
	} {
		if _, err := Checked(bad); err == nil {
			t.Errorf("%s was taken", name)
		}
	}
}
