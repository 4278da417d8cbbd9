package brief

import (
	"math"

	"github.com/paulmach/orb"

	"groundsheet/pack/record"
)

// labelPlacer keeps texts on a map from covering one another.
type labelPlacer struct {
	fonts   *pdfCanvas
	on      box              // labels stay within
	taken   map[[2]int][]box // by the cells that they touch
	hidden  int              // labels without a free place
	dots    map[dotKey]bool
	covered int // readings that lie under the dot of another
}

// dotKey is a place of readings that look alike, within which their dots would lie
// on each other.
type dotKey struct {
	x, y         int
	color, level string
}

// dotCell is how near dots have to be for one to stand for both, in millimeters.
const dotCell = 1.5

// ownDot reports whether a reading gets a dot of its own; if not it is counted.
func (r *labelPlacer) ownDot(p orb.Point, s record.Symbology) bool {
	d := dotKey{int(math.Floor(p[0] / dotCell)), int(math.Floor(p[1] / dotCell)), s.Color, s.Level}
	if r.dots[d] {
		r.covered++
		return false
	}
	r.dots[d] = true
	return true
}

// cell is the side of a cell in millimeters: thousands of labels are placed
// without comparing each with all others.
const cell = 8

func cells(b box) (all [][2]int) {
	for x := math.Floor(b.X / cell); x*cell <= b.X+b.W; x++ {
		for y := math.Floor(b.Y / cell); y*cell <= b.Y+b.H; y++ {
			all = append(all, [2]int{int(x), int(y)})
		}
	}
	return all
}

func newLabelPlacer(p *pdfCanvas, on box) *labelPlacer {
	return &labelPlacer{fonts: p, on: on, taken: map[[2]int][]box{}, dots: map[dotKey]bool{}}
}

func (r *labelPlacer) free(b box) bool {
	for _, at := range cells(b) {
		for _, o := range r.taken[at] {
			if b.X < o.X+o.W && o.X < b.X+b.W && b.Y < o.Y+o.H && o.Y < b.Y+b.H {
				return false
			}
		}
	}
	return true
}

func (r *labelPlacer) occupy(b box) {
	for _, at := range cells(b) {
		r.taken[at] = append(r.taken[at], b)
	}
}

// reserve fills a square round a place if it is free; half of its side in
// millimeters.
func (r *labelPlacer) reserve(p orb.Point, half float64) bool {
	b := around(p, half)
	if !r.free(b) {
		return false
	}
	r.occupy(b)
	return true
}

// reserveText fills the box of a text if it is on the map and free.
func (r *labelPlacer) reserveText(at orb.Point, text string, w lettering) bool {
	b := r.fonts.textBox(at, text, w)
	ok := r.on.holds(b) && r.free(b)
	if ok {
		r.occupy(b)
	}
	return ok
}

// label writes a text beside a place where it covers nothing, else counts it.
func (r *labelPlacer) label(c canvas, p orb.Point, text string, w lettering) {
	if !r.labelIfFree(c, p, text, w) {
		r.hidden++
	}
}

func (r *labelPlacer) labelIfFree(c canvas, p orb.Point, text string, w lettering) bool {
	for _, side := range []struct {
		x, y  float64
		align byte
	}{{3.2, 0.9, 'l'}, {-3.2, 0.9, 'r'}, {0, -3.4, 'c'}, {0, 5, 'c'}, {3.2, -2.4, 'l'}, {3.2, 4.2, 'l'},
		{-3.2, -2.4, 'r'}, {-3.2, 4.2, 'r'}} {
		w.align = side.align
		at := orb.Point{p[0] + side.x, p[1] + side.y}
		if r.reserveText(at, text, w) {
			c.Text(at, text, w)
			return true
		}
	}
	return false
}
