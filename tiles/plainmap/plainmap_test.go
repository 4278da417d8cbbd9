package plainmap

import (
	"fmt"
	"image"
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"github.com/paulmach/orb"

	"groundsheet/tiles"
	"groundsheet/tiles/paint"
	"groundsheet/tiles/source"
)

// around is a place in the world square near a tile of zoom 16, some pixels from its
// corner.
func around(first tiles.ID, x, y float64) orb.Point {
	n := math.Ldexp(256, int(first.Z))
	return orb.Point{(float64(first.X)*256 + x) / n, (float64(first.Y)*256 + y) / n}
}

var home = tiles.ID{Z: 16, X: 14232, Y: 25904} // the first of its block of 8×8

// country is shapes of every role, strewn over some tiles.
func country(seed uint64, n int) (all []Shape) {
	r := rand.New(rand.NewPCG(seed, 1))
	at := func() orb.Point { return around(home, r.Float64()*2500-200, r.Float64()*2500-200) }
	near := func(p orb.Point, by float64) orb.Point {
		n := math.Ldexp(256, int(home.Z))
		return orb.Point{p[0] + (r.Float64()-0.5)*by/n, p[1] + (r.Float64()-0.5)*by/n}
	}
	for i := range n {
		role := source.Roles()[i%len(source.Roles())]
		s := Shape{Role: role, Name: fmt.Sprintf("%s %d", role, r.IntN(n))}
		switch role {
		case source.RoleAddress, source.RolePlace:
			s.Geometry = at()
		case source.RoleStreet, source.RoleMainStreet, source.RolePath, source.RoleRail, source.RoleBoundary:
			line := orb.LineString{at()}
			for range r.IntN(20) + 1 {
				line = append(line, near(line[len(line)-1], 400))
			}
			s.Geometry = line
		default:
			p := at()
			ring := orb.Ring{p, near(p, 300), near(p, 300), near(p, 300), p}
			s.Geometry = orb.Polygon{ring}
		}
		all = append(all, s)
	}
	return all
}

func far(a, b image.RGBA, ax, ay, bx, by int) (most int) {
	i, j := a.PixOffset(ax, ay), b.PixOffset(bx, by)
	for k := range 3 {
		most = max(most, int(math.Abs(float64(a.Pix[i+k])-float64(b.Pix[j+k]))))
	}
	return most
}

// TestTilesJoin: tiles drawn one by one are what one picture of them all would be, with
// their names.
func TestTilesJoin(t *testing.T) {
	for _, zoom := range []uint32{14, 16, 19} {
		m := New(country(uint64(zoom), 400))
		lon, lat := home.Center()
		block, n := source.Source{Kind: source.KindDrawn, TileSize: 256}.Batch(tiles.At(lon, lat, int(zoom)))
		names := m.Names(block, n, 256)
		first := tiles.ID{Z: zoom, X: block.X + 1, Y: block.Y + 1}
		whole := m.paint(viewOf(first, 3, 256), names)
		odd := 0
		for i := range uint32(9) {
			id := tiles.ID{Z: zoom, X: first.X + i%3, Y: first.Y + i/3}
			tile := m.Draw(id, 256, names)
			for p := range 256 * 256 {
				if far(*tile, *whole, p%256, p/256, p%256+int(i%3)*256, p/256+int(i/3)*256) > 24 {
					odd++
				}
			}
		}
		if odd > 60 { // of 589,824: corners of letters, rounded by the rasterizer
			t.Errorf("zoom %d: %d pixels differ", zoom, odd)
		}
	}
}

// TestNames: no name lies on another, none reaches over the border of its block, and
// all can be read from left to right.
func TestNames(t *testing.T) {
	for seed := range uint64(5) {
		for _, zoom := range []int{15, 16, 18} {
			m := New(country(seed, 1500))
			lon, lat := home.Center()
			block, n := source.Source{Kind: source.KindDrawn, TileSize: 256}.Batch(tiles.At(lon, lat, zoom))
			names := m.Names(block, n, 256)
			if zoom == 16 && len(names.placed) < 30 {
				t.Errorf("only %d names", len(names.placed))
			}
			for i, one := range names.placed {
				if one.box.Min[0] < 0 || one.box.Min[1] < 0 || one.box.Max[0] > float64(names.w) || one.box.Max[1] > float64(names.h) {
					t.Errorf("%q reaches over the border: %v", one.text, one.box)
				}
				if a, b := one.letters[0].At, one.letters[len(one.letters)-1].At; b[0] < a[0]-3 { // straight up is either
					t.Errorf("%q runs backward", one.text)
				}
				for _, other := range names.placed[i+1:] {
					if one.box.Intersects(other.box) && touch(one.letters, other.letters) {
						t.Errorf("%q lies on %q", one.text, other.text)
					}
				}
			}
			if again := New(country(seed, 1500)).Names(block, n, 256); len(again.placed) != len(names.placed) {
				t.Error("placed in another way the second time")
			}
		}
	}
}

func touch(a, b []paint.Letter) bool {
	return slices.ContainsFunc(a, func(l paint.Letter) bool {
		return slices.ContainsFunc(b, func(k paint.Letter) bool { return letterBox(l).Intersects(letterBox(k)) })
	})
}

// TestPieces: center lines come in pieces; one name is written along all of them.
func TestPieces(t *testing.T) {
	var pieces []Shape
	for i := range 30 {
		from, to := float64(i)*20+300, float64(i)*20+320
		line := orb.LineString{around(home, from, 500), around(home, to, 500)}
		if i%2 == 1 {
			slices.Reverse(line)
		}
		pieces = append(pieces, Shape{line, source.RoleStreet, "Long Meadow Road"})
	}
	m := New(pieces)
	if len(m.items) != 1 {
		t.Fatalf("%d lines", len(m.items))
	}
	names := m.Names(home, 8, 256)
	if len(names.placed) != 1 || len(names.placed[0].letters) != len("Long Meadow Road") {
		t.Errorf("%+v", names.placed)
	}
}

// FuzzDraw: whatever coordinates and names come, drawing ends and does not panic.
func FuzzDraw(f *testing.F) {
	f.Add(0.25, 0.5, 0.26, 0.51, 1e-9, "Main Street", uint8(3))
	f.Add(math.NaN(), math.Inf(1), -1e300, 1e300, 0.0, "\x00\u202e中", uint8(7))
	f.Fuzz(func(t *testing.T, a, b, c, d, e float64, name string, role uint8) {
		r := source.Roles()[int(role)%len(source.Roles())]
		m := New([]Shape{
			{orb.LineString{{a, b}, {c, d}, {a + e, b}}, r, name}, {orb.Polygon{{{a, b}, {c, b}, {c, d}, {a, b}}}, r, name},
			{orb.Point{a, b}, r, name}, {orb.LineString{{c, d}, {a, b}}, r, name},
		})
		id := tiles.ID{Z: 14, X: 4096, Y: 8192}
		if img := m.Draw(id, 256, m.Names(id, 1, 256)); img.Rect.Dx() != 256 {
			t.Error(img.Rect)
		}
	})
}
