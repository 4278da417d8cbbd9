package brief

import (
	"context"
	"image"
	"math"

	"github.com/paulmach/orb"
	"github.com/paulmach/orb/clip"
	"golang.org/x/image/draw"
	"golang.org/x/image/math/f64"

	"groundsheet/tiles"
)

// upright is the view itself, or a larger one with north up round a turned one:
// tiles are placed on it, and turned as one picture.
func (v view) upright() view {
	if v.turn == 0 {
		return v
	}
	sin, cos := math.Sincos(v.turn)
	sin, cos = math.Abs(sin), math.Abs(cos)
	v.on = box{0, 0, v.on.W*cos + v.on.H*sin + 1, v.on.W*sin + v.on.H*cos + 1}
	v.turn = 0
	return v
}

// turnPicture gives the picture of a turned view out of that of the upright one.
func (v view) turnPicture(upright *image.RGBA) *image.RGBA {
	img := sheetOf(v.on)
	middle := func(m *image.RGBA) (x, y float64) { return float64(m.Rect.Dx()) / 2, float64(m.Rect.Dy()) / 2 }
	fromX, fromY := middle(upright)
	toX, toY := middle(img)
	sin, cos := math.Sincos(v.turn) // rows run down: what is counterclockwise on the ground is turned clockwise
	turn := f64.Aff3{cos, -sin, toX - cos*fromX + sin*fromY, sin, cos, toY - sin*fromX - cos*fromY}
	draw.ApproxBiLinear.Transform(img, turn, upright, upright.Rect, draw.Src, nil)
	return img
}

// meets reports whether a tile that meets the box round the view meets the view
// too: then no axis of either lies between them.
func (v view) meets(id tiles.ID) bool {
	b := id.Bounds()
	low, high := orb.Point{math.Inf(1), math.Inf(1)}, orb.Point{math.Inf(-1), math.Inf(-1)}
	for _, corner := range []orb.Point{{b.West, b.South}, {b.West, b.North}, {b.East, b.South}, {b.East, b.North}} {
		p := v.paper(corner)
		low, high = orb.Point{min(low[0], p[0]), min(low[1], p[1])}, orb.Point{max(high[0], p[0]), max(high[1], p[1])}
	}
	return high[0] >= v.on.X && low[0] <= v.on.X+v.on.W && high[1] >= v.on.Y && low[1] <= v.on.Y+v.on.H
}

// drawBases draws the base map of a page.
func (s *sheet) drawBases(ctx context.Context, at site) (err error) {
	if len(s.strips) == 0 {
		s.base, err = drawBase(ctx, at, s.view)
		return err
	}
	for _, one := range s.strips {
		pic, err := drawBase(ctx, at, one.view)
		if err != nil {
			return err
		}
		s.bases = append(s.bases, pic)
		s.base.zoom = pic.zoom // of all of them, but for a difference in latitude
		s.base.unread += pic.unread
		s.base.enlarged += pic.enlarged
		s.base.blank += pic.blank
	}
	return nil
}

// beyond is how far round a view, in millimetres, things are drawn: they may reach
// into it.
const beyond = 5

// nears reports whether a place on paper is in a turned view or near it. The box
// of degrees round such a view is much larger.
func (v view) nears(at orb.Point) bool {
	return v.turn == 0 || v.on.grown(beyond).has(at)
}

// clipped are the parts of a path on paper that are in a turned view or near it.
func (v view) clipped(path []orb.Point) (all [][]orb.Point) {
	if v.turn == 0 {
		return [][]orb.Point{path}
	}
	b := v.on.grown(beyond)
	for _, part := range clip.LineString(orb.Bound{Min: orb.Point{b.X, b.Y}, Max: orb.Point{b.X + b.W, b.Y + b.H}}, path) {
		all = append(all, part)
	}
	return all
}
