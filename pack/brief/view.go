package brief

import (
	"math"
	"slices"

	"github.com/paulmach/orb"
	"github.com/paulmach/orb/clip"

	"groundsheet/tiles/geodesic"
)

// view is a piece of ground on a piece of paper. Ground is flat metres round
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

// turned gives what lies along a direction and to the left of it; the direction
// is radians counterclockwise from the first axis.
func turned(p orb.Point, by float64) orb.Point {
	sin, cos := math.Sincos(by)
	return orb.Point{p[0]*cos + p[1]*sin, p[1]*cos - p[0]*sin}
}

// paper gives the millimetres on the page of a place in degrees.
func (v view) paper(p orb.Point) orb.Point {
	m := turned(v.frame.Metres(p), v.turn)
	k := 1000 / v.scale
	return orb.Point{v.on.X + v.on.W/2 + m[0]*k, v.on.Y + v.on.H/2 - m[1]*k}
}

// place is the inverse of paper.
func (v view) place(at orb.Point) orb.Point {
	k := v.scale / 1000
	return v.frame.Degrees(turned(orb.Point{(at[0] - v.on.X - v.on.W/2) * k, (v.on.Y + v.on.H/2 - at[1]) * k}, -v.turn))
}

// shows reports whether a place on paper lies in the view.
func (v view) shows(at orb.Point) bool {
	return v.on.has(at)
}

// ground is the box of degrees round the view, with millimetres round that; of a
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
	half := frame.Metres(whole.Max)
	w, h := on.W*scale/1000, on.H*scale/1000
	columns, rows := count(2*half[0], w), count(2*half[1], h)
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

// count is how many sheets of a side cover a length.
func count(length, side float64) float64 {
	return max(1, math.Ceil((length-side)/(side*(1-overlap))-1e-9)+1)
}

func touches(outline orb.MultiPolygon, b orb.Bound) bool {
	return slices.ContainsFunc(outline, func(p orb.Polygon) bool {
		return p.Bound().Intersects(b) && len(clip.Polygon(b, p.Clone())) > 0
	})
}

// Numbers of detail sheets: as many as a crew carries, and as many as a program
// will make when a scale is asked for. The project's own choice.
const (
	fewSheets  = 9
	mostSheets = 60
)

// chooseScale is the largest standard scale with few sheets.
func chooseScale(outline orb.MultiPolygon, units string, on box) float64 {
	all := scales(units)
	for _, n := range all {
		if len(grid(outline, n, on, fewSheets)) <= fewSheets {
			return n
		}
	}
	return all[len(all)-1]
}

// fitScale is the largest standard scale at which a box of degrees fits.
func fitScale(b orb.Bound, units string, on box) float64 {
	half := geodesic.At(b.Center()).Metres(b.Max)
	need := max(2000*half[0]/on.W, 2000*half[1]/on.H)
	all := scales(units)
	for _, n := range all {
		if n >= need {
			return n
		}
	}
	return all[len(all)-1]
}
