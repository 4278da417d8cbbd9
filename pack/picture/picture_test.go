package picture

import (
	"bytes"
	"image"
	"image/png"
	"math"
	"strings"
	"testing"

	"groundsheet/pack/job"
	"groundsheet/pack/plan"
	"groundsheet/tiles"
	"groundsheet/tiles/measure"
	"groundsheet/tiles/source"
)

func planned(t *testing.T, z tiles.Zooms) plan.Plan { return planOf(t, z, 40) }

func inputs(t *testing.T, j job.Job) job.Inputs {
	t.Helper()
	in, err := j.ReadInputs()
	if err != nil {
		t.Fatal(err)
	}
	return in
}

func planOf(t *testing.T, z tiles.Zooms, radius measure.Distance) plan.Plan {
	t.Helper()
	j := job.Job{
		Dir: t.TempDir(), Name: "Picture", Units: "us", Margin: 15.24, Around: []job.Around{{Lat: 40.5, Lon: -140.5, Radius: radius}},
		Bases: []job.Base{{Source: "town", Zooms: z}},
	}
	p, err := plan.New(t.Context(), plan.Options{Inputs: inputs(t, j), Source: source.Source{Name: "town", Zooms: tiles.Zooms{Min: 0, Max: 24}, TileSize: 256, Terms: &source.Terms{Offline: source.OfflineAllowed, RequestsPerSecond: 1}}})
	if err != nil {
		t.Fatal(err)
	}
	return p
}

func drawn(t *testing.T, p plan.Plan, zoom int) image.Image {
	t.Helper()
	var b bytes.Buffer
	if _, err := Write(t.Context(), &b, p, zoom, nil); err != nil {
		t.Fatal(err)
	}
	img, err := png.Decode(&b)
	if err != nil {
		t.Fatal(err)
	}
	return img
}

func share(img image.Image, want [3]uint8) float64 {
	n := 0
	b := img.Bounds()
	for y := b.Min.Y; y < b.Max.Y; y++ {
		for x := b.Min.X; x < b.Max.X; x++ {
			r, g, bl, _ := img.At(x, y).RGBA()
			if [3]uint8{uint8(r >> 8), uint8(g >> 8), uint8(bl >> 8)} == want {
				n++
			}
		}
	}
	return float64(n) / float64(b.Dx()*b.Dy())
}

// TestTrueToTheGround: the filled circle has the area that a circle of 40 m has
// at the picture's own scale.
func TestTrueToTheGround(t *testing.T) {
	p := planned(t, tiles.Zooms{Min: 15, Max: 21})
	img := drawn(t, p, 21)
	b := img.Bounds()
	box, _ := p.Covers[6].Bounds()
	x0, _ := tiles.Project(box.West, 0)
	x1, _ := tiles.Project(box.East, 0)
	_, north := tiles.Project(0, box.North)
	_, south := tiles.Project(0, box.South)
	scale := float64(longSide-2*border) / max(x1-x0, south-north) // pixels a world
	meter := scale / 40075016.686 / math.Cos(40.5*math.Pi/180)
	want := math.Pi * 40 * 40 * meter * meter
	got := share(img, [3]uint8{areaFill.R, areaFill.G, areaFill.B}) * float64(b.Dx()*b.Dy())
	// The edge takes a pixel of the filling all round.
	// So do the borders of tiles.
	if got < want*0.85 || got > want*1.01 {
		t.Errorf("%.0f pixels are filled, a circle of 40 m has %.0f", got, want)
	}
	if s := share(img, [3]uint8{tileFill.R, tileFill.G, tileFill.B}); s < 0.2 {
		t.Errorf("tiles fill %.2f of the picture", s)
	}
}

func TestUnknownZoom(t *testing.T) {
	_, err := Write(t.Context(), &bytes.Buffer{}, planned(t, tiles.Zooms{Min: 15, Max: 17}), 18, nil)
	if err == nil || !strings.Contains(err.Error(), "15 to 17") {
		t.Errorf("%v", err)
	}
}

// TestManyTiles: a zoom with tiles finer than a pixel is still drawn.
func TestManyTiles(t *testing.T) {
	img := drawn(t, planned(t, tiles.Zooms{Min: 24, Max: 24}), 24)
	if s := share(img, [3]uint8{areaFill.R, areaFill.G, areaFill.B}); s < 0.1 {
		t.Errorf("the area fills %.2f of the picture", s)
	}
}

// TestOverTheAntimeridian: the picture is of the site, not of the world.
func TestOverTheAntimeridian(t *testing.T) {
	j := job.Job{
		Dir: t.TempDir(), Name: "Seam", Units: "us", Around: []job.Around{{Lat: 10, Lon: 180, Radius: 40}},
		Bases: []job.Base{{Source: "town", Auto: true}},
	}
	p, err := plan.New(t.Context(), plan.Options{Inputs: inputs(t, j), Source: source.Source{Name: "town", Zooms: tiles.Zooms{Min: 0, Max: 22}, TileSize: 256, Terms: &source.Terms{Offline: source.OfflineAllowed, RequestsPerSecond: 1}}})
	if err != nil {
		t.Fatal(err)
	}
	if lon, lat := p.Middle(); math.Abs(math.Abs(lon)-180) > 1e-6 || math.Abs(lat-10) > 1e-6 || p.Base.Zooms.Min != 14 {
		t.Errorf("middle %v %v, zooms %v", lon, lat, p.Base.Zooms)
	}
	img := drawn(t, p, Deepest(p))
	if s := share(img, [3]uint8{areaFill.R, areaFill.G, areaFill.B}); s < 0.2 {
		t.Errorf("the area fills %.2f of the picture", s)
	}
}
