package picture

import (
	"bytes"
	"context"
	"image"
	"image/color"
	"image/draw"
	"image/png"
	"iter"
	"testing"

	"groundsheet/pack/plan"
	"groundsheet/tiles"
	"groundsheet/tiles/store"
)

// shelf holds one plain image for each of its tiles, of the color of its zoom.
type shelf map[tiles.ID]bool

func (h shelf) In(_ context.Context, c tiles.Cover, _ bool) iter.Seq2[store.Held, error] {
	return func(yield func(store.Held, error) bool) {
		for id := range c.All() {
			image, held := h[id]
			if !held {
				continue
			}
			r := store.Held{Tile: tiles.Tile{ID: id}, Hole: !image}
			if image {
				r.Data = flat(int(id.Z))
			}
			if !yield(r, nil) {
				return
			}
		}
	}
}

func flat(zoom int) []byte {
	m := image.NewRGBA(image.Rect(0, 0, 256, 256))
	draw.Draw(m, m.Bounds(), image.NewUniform(colorOf(zoom)), image.Point{}, draw.Src)
	var b bytes.Buffer
	if err := png.Encode(&b, m); err != nil {
		panic(err)
	}
	return b.Bytes()
}

func colorOf(zoom int) color.RGBA { return color.RGBA{uint8(10 * zoom), 40, 90, 255} }

func over(t *testing.T, p plan.Plan, zoom int, held Held) (image.Image, Imagery) {
	t.Helper()
	var b bytes.Buffer
	of, err := Write(t.Context(), &b, p, zoom, held)
	if err != nil {
		t.Fatal(err)
	}
	img, err := png.Decode(&b)
	if err != nil {
		t.Fatal(err)
	}
	return img, of
}

func shareOf(img image.Image, zoom int) float64 {
	c := colorOf(zoom)
	return share(img, [3]uint8{c.R, c.G, c.B})
}

// TestOverHeldImagery: each piece of ground shows its nearest held ancestor, and
// plain ground where there is none.
func TestOverHeldImagery(t *testing.T) {
	p := planned(t, tiles.Zooms{Min: 15, Max: 20})
	last := p.Covers[5]
	all := shelf{}
	for id := range last.All() {
		all[id] = true
	}
	img, of := over(t, p, 20, all)
	if n := int64(last.Count()); of != (Imagery{Zoom: 20, Of: n, Held: n}) || shareOf(img, 20) < 0.7 {
		t.Errorf("all is held: %+v, %.2f of the picture", of, shareOf(img, 20))
	}
	if plain := share(img, [3]uint8{tileFill.R, tileFill.G, tileFill.B}) + share(img, [3]uint8{areaFill.R, areaFill.G, areaFill.B}); plain > 0 {
		t.Errorf("%.2f of the picture is plain ground though all is held", plain)
	}
	some := shelf{}
	for id := range p.Covers[1].All() { // zoom 16
		some[id] = true
	}
	var one tiles.ID
	for id := range last.All() {
		if one == (tiles.ID{}) {
			one, some[id] = id, true
			continue
		}
		some[id] = false // a hole is no imagery
	}
	img, of = over(t, p, 20, some)
	if of.Held != 1 || of.Enlarged != int64(p.Covers[1].Count()) || shareOf(img, 16) < 0.5 || shareOf(img, 20) < 0.01 || shareOf(img, 20) > 0.3 {
		t.Errorf("one and coarse ones: %+v, %.2f and %.2f of the picture", of, shareOf(img, 16), shareOf(img, 20))
	}
	img, of = over(t, p, 20, shelf{one: true})
	if of.Held != 1 || of.Enlarged != 0 || share(img, [3]uint8{areaFill.R, areaFill.G, areaFill.B}) < 0.1 {
		t.Errorf("one alone: %+v", of)
	}
	if _, of = over(t, p, 20, shelf{}); of.Drawn() || of.Of != int64(last.Count()) {
		t.Errorf("nothing is held: %+v", of)
	}
}

// TestImageryInBounds: tiles far finer than the drawing are not read at all.
func TestImageryInBounds(t *testing.T) {
	p := planOf(t, tiles.Zooms{Min: 24, Max: 24}, 400)
	if _, of := over(t, p, 24, shelf{}); of.Of != 0 {
		t.Errorf("%+v", of)
	}
	p = planned(t, tiles.Zooms{Min: 15, Max: 24})
	if _, of := over(t, p, 24, shelf{}); of.Of == 0 || of.Of > 200 {
		t.Errorf("%+v", of)
	}
}
