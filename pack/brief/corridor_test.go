package brief

import (
	"bytes"
	"errors"
	"fmt"
	"html"
	"image"
	"image/color"
	"image/jpeg"
	"slices"
	"strings"
	"testing"

	"github.com/paulmach/orb"
	"golang.org/x/image/draw"

	"groundsheet/pack"
	"groundsheet/pack/record"
	"groundsheet/pack/record/derive"
	"groundsheet/tiles"
	"groundsheet/tiles/area"
	"groundsheet/tiles/fault"
	"groundsheet/tiles/raster"
	"groundsheet/tiles/words/golden"
)

// bent is a route with a sharp bend and one that is not, some 330 m long.
func bent() orb.LineString {
	return orb.LineString{from(-110, -60), from(0, -40), from(20, 60), from(120, 50)}
}

// corridor packs a route 60 ft wide with a margin of 50 ft, and what else is the
// dig area.
func corridor(t *testing.T, units string, picture func(tiles.ID) []byte, more area.Area, overlays ...record.Overlay) *pack.Pack {
	t.Helper()
	a := about()
	a.Units, a.MarginM = units, 15.24
	whole := area.Area{Strips: []area.Strip{{Line: bent(), HalfWidth: 9.144}}}.Join(more)
	g := pack.NewGround(whole, whole.Outline(0), a.MarginM)
	text, err := g.GeoJSON()
	if err != nil {
		t.Fatal(err)
	}
	if picture == nil {
		data := gray(t)
		picture = func(tiles.ID) []byte { return data }
	}
	known := derive.From(overlays, g.Area, derive.Options{EachSide: a.Tolerance.EachSide.Meters(), Uncertainty: true})
	return packOn(t, a, text, 200, picture, &known, overlays...)
}

func TestCorridorBrief(t *testing.T) {
	m, pdf, page := write(t, corridor(t, "us", nil, area.Area{}, usual(t)...), Options{})
	if m.Strips != m.Sheets || m.Strips < 3 || m.Strips > 6 || m.Scale != 480 {
		t.Errorf("%+v", m)
	}
	if n := bytes.Count(pdf, []byte("/MediaBox [0 0 792.00 612.00]")); n != m.Strips {
		t.Errorf("%d of %d pages on their side", n, m.Strips)
	}
	for _, want := range []string{fmt.Sprintf("Strip 1 of %d · 1 in = 40 ft (1:480)", m.Strips), "0+00 at its first position; 1+00 is 100 ft", "wide-map"} {
		if !strings.Contains(html.UnescapeString(string(page)), want) {
			t.Errorf("the page does not say %q", want)
		}
	}
	var misuse *fault.Fault
	if _, err := Write(t.Context(), corridor(t, "us", nil, area.Area{}), &bytes.Buffer{}, &bytes.Buffer{}, Options{Scale: 60, Now: nil}); !errors.As(err, &misuse) || misuse.Kind != Misuse || !strings.Contains(misuse.Remedy, "1:480") {
		t.Errorf("a scale at which the corridor is wider than the paper: %v", err)
	}
}

// TestGroundBesideTheRoute: what of the dig area is not along a route is on sheets
// with north up, numbered after the strips.
func TestGroundBesideTheRoute(t *testing.T) {
	pit := area.Area{Discs: []area.Disc{{Center: from(-150, 150), Radius: 10}}}
	p := corridor(t, "metric", nil, pit)
	s, err := readPack(t.Context(), p, now)
	if err != nil {
		t.Fatal(err)
	}
	on := box{10, 22, 190, 200}
	for _, scale := range []float64{0, 1000} {
		l, err := layOut(s, on, wide, scale)
		if err != nil || len(l.plain) == 0 || l.plain[0].number != len(l.plan.strips)+1 {
			t.Fatalf("%v: %+v", err, l)
		}
		at := from(-150, 150)
		if !slices.ContainsFunc(l.plain, func(v view) bool { return v.shows(v.toPaper(at)) }) || scale == 1000 && l.scale() != scale {
			t.Errorf("scale %g: no sheet shows the pit", scale)
		}
	}
	if m, _, page := write(t, p, Options{}); m.Sheets == m.Strips || !strings.Contains(string(page), "with north up at 1:") {
		t.Errorf("%+v", m)
	}
}

// TestPictureIsTurnedToo: each place of a strip has the color of the tile that it
// lies in, whichever way the strip is turned.
func TestPictureIsTurnedToo(t *testing.T) {
	defer func(was float64) { perInch = was }(perInch)
	perInch = dotsPerInch
	colors := [3]color.RGBA{{255, 0, 0, 255}, {0, 255, 0, 255}, {0, 0, 255, 255}}
	var data [3][]byte
	for i, c := range colors {
		img := image.NewRGBA(image.Rect(0, 0, 256, 256))
		draw.Draw(img, img.Rect, image.NewUniform(c), image.Point{}, draw.Src)
		var err error
		if data[i], err = raster.Encode(img, raster.PNG); err != nil {
			t.Fatal(err)
		}
	}
	which := func(id tiles.ID) int { return int(id.X+2*id.Y) % 3 }
	p := corridor(t, "us", func(id tiles.ID) []byte { return data[which(id)] }, area.Area{})
	s, err := readPack(t.Context(), p, now)
	if err != nil {
		t.Fatal(err)
	}
	plan, _ := s.chooseStrips(wide)
	for _, one := range plan.strips {
		pic, err := drawBase(t.Context(), s, one.view)
		if err != nil {
			t.Fatal(err)
		}
		img, err := jpeg.Decode(bytes.NewReader(pic.jpeg))
		if err != nil {
			t.Fatal(err)
		}
		seen := 0
		for x := 3.0; x < one.on.W-3; x += 2.3 {
			for y := 3.0; y < one.on.H-3; y += 2.7 {
				at := func(dx, dy float64) tiles.ID {
					p := one.toGround(orb.Point{one.on.X + x + dx, one.on.Y + y + dy})
					return tiles.At(p[0], p[1], pic.zoom)
				}
				id := at(0, 0)
				if at(-0.6, -0.6) != id || at(0.6, -0.6) != id || at(-0.6, 0.6) != id || at(0.6, 0.6) != id {
					continue // an edge runs near it
				}
				k := float64(img.Bounds().Dx()) / one.on.W
				r, g, b, _ := img.At(int(x*k), int(y*k)).RGBA()
				got := [3]uint32{r, g, b}
				if i := which(id); got[i] < got[(i+1)%3] || got[i] < got[(i+2)%3] {
					t.Fatalf("strip %d, %.1f mm, %.1f mm: %v, want %d", one.number, x, y, got, i)
				}
				seen++
			}
		}
		if seen < 500 || pic.unread+pic.blank > 0 {
			t.Errorf("strip %d: %d places looked at; %+v", one.number, seen, pic)
		}
	}
}

// TestOldPackHasAGrid: a pack that names no route has sheets with north up.
func TestOldPackHasAGrid(t *testing.T) {
	m, _, page := write(t, newPack(t, about()), Options{})
	if m.Strips != 0 || strings.Contains(string(page), "Strip") {
		t.Errorf("%+v", m)
	}
}

// TestGoldenCorridor is TestGoldenWords for a route with a pit beside it.
func TestGoldenCorridor(t *testing.T) {
	inUTC(t)
	pit := area.Area{Discs: []area.Disc{{Center: from(-150, 150), Radius: 10}}}
	_, _, page := write(t, corridor(t, "us", nil, pit, usual(t)...), Options{Scale: 480})
	golden.Hold(t, "corridor", plain(page))
}
