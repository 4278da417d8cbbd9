package plainmap

import (
	"math"

	"github.com/paulmach/orb"

	"groundsheet/tiles/paint"
)

// Names along lines bend with them, but not so far that they cannot be read.
const (
	mostBend = 0.5 // between two letters, in radians
	mostTurn = 1.2 // from the first to the last
)

// alongLine writes a name along a line, again after some way. What of the line lies in
// the square counts, so the place is the same for all of its tiles.
func (p *placer) alongLine(it *item, g orb.LineString) {
	long := paint.TextWidth(it.name, p.look.Text)
	for _, run := range p.runs(g) {
		whole := length(run)
		n := max(int(whole/repeat), 1)
		for i := range n {
			middle := whole * (float64(i) + 0.5) / float64(n)
			p.near(it, run, middle, long, whole/float64(n)/2)
		}
	}
}

// near tries places on both sides of one, up to a distance.
func (p *placer) near(it *item, run []orb.Point, middle, long, most float64) {
	const step, tries = 12 * density, 12
	for n := 0; n < tries && float64(n)*step+long/2 <= most; n++ {
		off := float64(n) * step
		for _, at := range []float64{middle + off, middle - off} {
			letters, ok := p.written(it.name, run, at, long)
			if ok && !p.beside(it.name, letters) && p.put(it, letters) {
				return
			}
		}
	}
}

// beside reports whether the same name stands close by: two sides of one street.
func (p *placer) beside(text string, letters []paint.Letter) bool {
	at := letters[len(letters)/2].At
	for _, i := range p.same[text] {
		other := p.placed[i]
		o := other.letters[len(other.letters)/2].At
		if math.Hypot(o[0]-at[0], o[1]-at[1]) < repeat/2 {
			return true
		}
	}
	return false
}

// runs are the pieces of a line within the square, in its pixels.
func (p *placer) runs(g orb.LineString) (all [][]orb.Point) {
	box := orb.Bound{Max: orb.Point{float64(p.view.w), float64(p.view.h)}}
	var run []orb.Point
	for i, w := range g {
		at := p.view.at(w)
		if i > 0 {
			before := p.view.at(g[i-1])
			t0, t1, in := painter{view: p.view}.crossing(before, at)
			if in && len(run) == 0 {
				run = append(run, mix(before, at, t0))
			}
			if end := mix(before, at, t1); in && (math.Hypot(end[0]-run[len(run)-1][0], end[1]-run[len(run)-1][1]) > 1 || i == len(g)-1) {
				run = append(run, end)
			}
			if (!in || t1 < 1 || !box.Pad(40).Contains(at)) && len(run) > 0 {
				all, run = append(all, run), nil
			}
		}
	}
	if len(run) > 1 {
		all = append(all, run)
	}
	return all
}

func length(run []orb.Point) (sum float64) {
	for i := 1; i < len(run); i++ {
		sum += math.Hypot(run[i][0]-run[i-1][0], run[i][1]-run[i-1][1])
	}
	return sum
}

// written sets the letters of a text along a line around a place on it, from left to
// right; false where the line bends too much.
func (p *placer) written(text string, run []orb.Point, middle, long float64) ([]paint.Letter, bool) {
	size := p.look.Text
	walk := walker{run: run}
	from, _, ok0 := walk.at(middle - long/2)
	to, _, ok1 := walk.at(middle + long/2)
	if !ok0 || !ok1 {
		return nil, false
	}
	backward := to[0] < from[0]
	var letters []paint.Letter
	x := 0.0
	for _, r := range text {
		wide := paint.Width(r, size)
		along := middle - long/2 + x + wide/2
		if backward {
			along = middle + long/2 - x - wide/2
		}
		at, angle, ok := walk.at(along)
		if !ok {
			return nil, false
		}
		if backward {
			angle += math.Pi
		}
		if n := len(letters); n > 0 && (math.Abs(turn(letters[n-1].Angle, angle)) > mostBend || math.Abs(turn(letters[0].Angle, angle)) > mostTurn) {
			return nil, false
		}
		sin, cos := math.Sincos(angle)
		down := 0.35 * size // the middle of the letters lies on the line
		letters = append(letters, paint.Letter{Rune: r, At: orb.Point{at[0] - down*sin, at[1] + down*cos}, Angle: angle, Size: size})
		x += wide
	}
	return letters, len(letters) > 0
}

// turn is the angle from one direction to another, -π to π.
func turn(a, b float64) float64 { return math.Remainder(b-a, 2*math.Pi) }

// walker finds places along a line.
type walker struct{ run []orb.Point }

// at is the place and the direction at a distance along the line; false beyond its
// ends.
func (w walker) at(distance float64) (orb.Point, float64, bool) {
	if distance < 0 {
		return orb.Point{}, 0, false
	}
	for i := 1; i < len(w.run); i++ {
		a, b := w.run[i-1], w.run[i]
		long := math.Hypot(b[0]-a[0], b[1]-a[1])
		if distance <= long && long > 0 {
			return mix(a, b, distance/long), math.Atan2(b[1]-a[1], b[0]-a[0]), true
		}
		distance -= long
	}
	return orb.Point{}, 0, false
}

// taken is which parts of a square names stand on, in cells of some pixels.
type taken struct {
	cells []bool
	wide  int
	high  int
}

const cell = 4

func newTaken(w, h int) *taken {
	t := &taken{wide: w/cell + 1, high: h/cell + 1}
	t.cells = make([]bool, t.wide*t.high)
	return t
}

// each goes through the cells of a box until visit says to end.
func (t *taken) each(b orb.Bound, visit func(c *bool) bool) {
	for y := max(int(b.Min[1])/cell, 0); y <= min(int(b.Max[1])/cell, t.high-1); y++ {
		for x := max(int(b.Min[0])/cell, 0); x <= min(int(b.Max[0])/cell, t.wide-1); x++ {
			if !visit(&t.cells[y*t.wide+x]) {
				return
			}
		}
	}
}

func (t *taken) is(b orb.Bound) (is bool) {
	t.each(b, func(c *bool) bool {
		is = *c
		return !is
	})
	return is
}

func (t *taken) take(b orb.Bound) {
	t.each(b, func(c *bool) bool {
		*c = true
		return true
	})
}
