package brief

import (
	"context"
	"image"
	"math"
	"slices"

	"github.com/paulmach/orb"
	"github.com/paulmach/orb/clip"
	"golang.org/x/image/draw"
	"golang.org/x/image/math/f64"

	"groundsheet/tiles"
	"groundsheet/tiles/geodesic"
)

// view is a piece of ground on a piece of paper. Ground is flat meters round
// the middle of the view, so that the stated scale is that of the ground in both
// directions; Web Mercator would be 23 % too large at latitude 40, and its
// directions differ by half a per cent.
type view struct {
	number int // of the sheet; 0 = the overview
	middle orb.Point
	frame  geodesic.Frame
	scale  float64 // 1:scale
	on     box     // of the page
	turn   float64 // what direction runs to the right: radians counterclockwise from east; 0 = north is up
}

func newView(number int, middle orb.Point, scale float64, on box) view {
	return view{number, middle, geodesic.At(middle), scale, on, 0}
}

// turned gives the parts of p along a direction and to its left; the direction is
// radians counterclockwise from the first axis.
func turned(p orb.Point, by float64) orb.Point {
	sin, cos := math.Sincos(by)
	return orb.Point{p[0]*cos + p[1]*sin, p[1]*cos - p[0]*sin}
}

// toPaper gives the millimeters on the page of a place in degrees.
func (v view) toPaper(p orb.Point) orb.Point {
	m := turned(v.frame.Meters(p), v.turn)
	k := 1000 / v.scale
	return orb.Point{v.on.X + v.on.W/2 + m[0]*k, v.on.Y + v.on.H/2 - m[1]*k}
}

// toGround is the inverse of paper.
func (v view) toGround(at orb.Point) orb.Point {
	k := v.scale / 1000
	return v.frame.Degrees(turned(orb.Point{(at[0] - v.on.X - v.on.W/2) * k, (v.on.Y + v.on.H/2 - at[1]) * k}, -v.turn))
}

// shows reports whether a place on paper lies in the view.
func (v view) shows(at orb.Point) bool {
	return v.on.has(at)
}

// ground is the box of degrees round the view, with millimeters round that; of a
// view with north up it is the view itself.
func (v view) ground(round float64) orb.Bound {
	w, h := (v.on.W/2+round)*v.scale/1000, (v.on.H/2+round)*v.scale/1000
	sin, cos := math.Sincos(v.turn)
	x, y := w*math.Abs(cos)+h*math.Abs(sin), w*math.Abs(sin)+h*math.Abs(cos)
	return orb.Bound{Min: v.frame.Degrees(orb.Point{-x, -y}), Max: v.frame.Degrees(orb.Point{x, y})}
}

// overlap is the part of a sheet that the next one shows again.
const overlap = 0.06

// grid lays sheets over an outline, the north-west first, row by row; those
// without any of it are left out. It stops when there are more than most.
func grid(outline orb.MultiPolygon, scale float64, on box, most int) []view {
	whole := outline.Bound()
	frame := geodesic.At(whole.Center())
	half := frame.Meters(whole.Max)
	w, h := on.W*scale/1000, on.H*scale/1000
	columns, rows := sheetsAlong(2*half[0], w), sheetsAlong(2*half[1], h)
	if columns*rows > 1e5 { // a route may touch few of many, but not of so many
		return make([]view, most+1)
	}
	var all []view
	for r := 0.0; r < rows; r++ {
		for c := 0.0; c < columns; c++ {
			at := orb.Point{(c - (columns-1)/2) * w * (1 - overlap), ((rows-1)/2 - r) * h * (1 - overlap)}
			v := newView(len(all)+1, frame.Degrees(at), scale, on)
			if !touches(outline, v.ground(0)) {
				continue
			}
			if all = append(all, v); len(all) > most {
				return all
			}
		}
	}
	return all
}

// sheetsAlong is how many sheets of a side cover a length.
func sheetsAlong(length, side float64) float64 {
	return max(1, math.Ceil((length-side)/(side*(1-overlap))-1e-9)+1)
}

func touches(outline orb.MultiPolygon, b orb.Bound) bool {
	return slices.ContainsFunc(outline, func(p orb.Polygon) bool {
		return p.Bound().Intersects(b) && len(clip.Polygon(b, p.Clone())) > 0
	})
}

// Numbers of detail sheets: as many as a crew carries, and as many as a program
// will make when a scale is stated. The project's own choice.
const (
	fewSheets  = 9
	mostSheets = 60
)

// chooseScale is the largest standard scale with few sheets.
func chooseScale(outline orb.MultiPolygon, units string, on box) float64 {
	return firstScale(units, func(n float64) bool { return len(grid(outline, n, on, fewSheets)) <= fewSheets })
}

// fitScale is the largest standard scale at which a box of degrees fits.
func fitScale(b orb.Bound, units string, on box) float64 {
	half := geodesic.At(b.Center()).Meters(b.Max)
	need := max(2000*half[0]/on.W, 2000*half[1]/on.H)
	return firstScale(units, func(n float64) bool { return n >= need })
}

// upright is the view itself, or a larger one with north up around a turned one:
// tiles are drawn on it, and turned as one picture.
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

// turnPicture gives the picture of a turned view from that of the upright one.
func (v view) turnPicture(upright *image.RGBA) *image.RGBA {
	img := newImage(v.on)
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
		p := v.toPaper(corner)
		low, high = orb.Point{min(low[0], p[0]), min(low[1], p[1])}, orb.Point{max(high[0], p[0]), max(high[1], p[1])}
	}
	return high[0] >= v.on.X && low[0] <= v.on.X+v.on.W && high[1] >= v.on.Y && low[1] <= v.on.Y+v.on.H
}

// drawBases draws the base map of a page.
func (s *sheet) drawBases(ctx context.Context, data packData) (err error) {
	if len(s.strips) == 0 {
		s.base, err = drawBase(ctx, data, s.view)
		return err
	}
	for _, one := range s.strips {
		pic, err := drawBase(ctx, data, one.view)
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

// beyond is how far around a view, in millimeters, things are drawn: they may reach
// into it.
const beyond = 5

// isNear reports whether a place on paper is in a turned view or near it. The box
// of degrees round such a view is much larger.
func (v view) isNear(at orb.Point) bool {
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
