package plainmap

import (
	"cmp"
	"image/color"
	"math"
	"slices"
	"strings"

	"github.com/paulmach/orb"

	"groundsheet/tiles"
	"groundsheet/tiles/paint"
	"groundsheet/tiles/source"
)

// Names are the names of a square of tiles in their places. None covers another, and
// none reaches over the square's border.
type Names struct {
	view
	placed []name
}

// name is one name in its place, in pixels of the square.
type name struct {
	text    string
	role    source.Role
	letters []paint.Letter
	box     orb.Bound
	ink     color.RGBA
}

// Names places the names of a square of n×n tiles: see source.Source.Batch.
func (m *Map) Names(first tiles.ID, n, side int) *Names {
	return m.names(viewOf(first, n, side))
}

func (m *Map) names(v view) *Names {
	p := placer{view: v, Names: &Names{view: v}, taken: newTaken(v.w, v.h), same: map[string][]int{}}
	var all []*item
	for _, it := range m.within(v.bound(0)) {
		if it.name != "" && v.zoom() >= LookOf(it.role).Named {
			all = append(all, it)
		}
	}
	p.sort(all)
	for _, it := range all {
		p.look = LookOf(it.role)
		p.look.Text *= density
		switch g := it.part.(type) {
		case orb.LineString:
			p.alongLine(it, g)
		case orb.Polygon:
			p.inside(it, g)
		case orb.Point:
			p.atPoint(it, g)
		}
	}
	return p.Names
}

// placer puts names into a square, one after the other.
type placer struct {
	view
	*Names
	taken *taken
	look  Look
	same  map[string][]int // which of the placed have a text
}

// urgency is the order in which roles get their places.
var urgency = []source.Role{source.RolePlace, source.RoleMainStreet, source.RoleStreet, source.RoleWater, source.RoleGreen, source.RoleRail,
	source.RolePath, source.RoleBuilding, source.RoleLand, source.RoleBoundary, source.RoleAddress, source.RoleParcel}

// sort puts what matters most first: by role, then the largest.
func (p *placer) sort(all []*item) {
	extent := func(it *item) float64 {
		return it.box.Max[0] - it.box.Min[0] + it.box.Max[1] - it.box.Min[1]
	}
	slices.SortStableFunc(all, func(a, b *item) int {
		return cmp.Or(cmp.Compare(slices.Index(urgency, a.role), slices.Index(urgency, b.role)), cmp.Compare(extent(b), extent(a)),
			strings.Compare(a.name, b.name), cmp.Compare(a.box.Min[0], b.box.Min[0]), cmp.Compare(a.box.Min[1], b.box.Min[1]))
	})
}

const (
	gap    = 2 * density   // pixels around a name that stay free
	repeat = 320 * density // pixels after which a street is named again
)

// put places letters if they lie within the square and on no other name.
func (p *placer) put(it *item, letters []paint.Letter) bool {
	box := letterBox(letters[0])
	for _, l := range letters[1:] {
		box = box.Union(letterBox(l))
	}
	if box.Min[0] < gap || box.Min[1] < gap || box.Max[0] > float64(p.view.w)-gap || box.Max[1] > float64(p.view.h)-gap {
		return false
	}
	for _, l := range letters {
		if p.taken.is(letterBox(l)) {
			return false
		}
	}
	for _, l := range letters {
		p.taken.take(letterBox(l).Pad(gap))
	}
	p.same[it.name] = append(p.same[it.name], len(p.placed))
	p.placed = append(p.placed, name{it.name, it.role, letters, box, rgba(p.look.Ink)})
	return true
}

// letterBox is the room of a letter, however it is turned.
func letterBox(l paint.Letter) orb.Bound {
	// its middle lies above the line that it stands on
	sin, cos := math.Sincos(l.Angle)
	up := 0.35 * l.Size
	x, y := l.At[0]+up*sin, l.At[1]-up*cos
	half := max(paint.Width(l.Rune, l.Size)/2, 0.3*l.Size)
	wide, high := half*math.Abs(cos)+0.5*l.Size*math.Abs(sin), half*math.Abs(sin)+0.5*l.Size*math.Abs(cos)
	return orb.Bound{Min: orb.Point{x - wide, y - high}, Max: orb.Point{x + wide, y + high}}
}

// atPoint writes a name or a number on its point; near the border it is moved into the
// square.
func (p *placer) atPoint(it *item, g orb.Point) {
	at := p.view.at(g)
	half := orb.Point{paint.TextWidth(it.name, p.look.Text)/2 + gap + 1, p.look.Text/2 + gap + 1}
	for axis, size := range [2]int{p.view.w, p.view.h} {
		if at[axis] < 0 || at[axis] >= float64(size) {
			return // its point belongs to another square
		}
		at[axis] = min(max(at[axis], half[axis]), float64(size)-half[axis])
	}
	at[1] += 0.35 * p.look.Text
	p.put(it, paint.Level(it.name, at, p.look.Text))
}

// inside writes a name in the middle of an area that is wide enough for it.
func (p *placer) inside(it *item, g orb.Polygon) {
	middle, wide := widest(g)
	if wide*p.view.scale < paint.TextWidth(it.name, p.look.Text)+2*gap || (it.box.Max[1]-it.box.Min[1])*p.view.scale < p.look.Text {
		return
	}
	at := p.view.at(middle)
	at[1] += 0.35 * p.look.Text
	p.put(it, paint.Level(it.name, at, p.look.Text))
}

// widest is the middle of the widest level piece of an area at half its height, or a
// quarter or three.
func widest(g orb.Polygon) (middle orb.Point, wide float64) {
	box := g.Bound()
	for _, part := range []float64{0.5, 0.25, 0.75} {
		y := box.Min[1] + part*(box.Max[1]-box.Min[1])
		var cuts []float64
		for _, ring := range g {
			for i := 1; i < len(ring); i++ {
				a, b := ring[i-1], ring[i]
				if (a[1] > y) != (b[1] > y) {
					cuts = append(cuts, a[0]+(b[0]-a[0])*(y-a[1])/(b[1]-a[1]))
				}
			}
		}
		slices.Sort(cuts)
		for i := 1; i < len(cuts); i += 2 {
			if w := cuts[i] - cuts[i-1]; w > wide*1.2 { // half the height is best
				wide, middle = w, orb.Point{(cuts[i] + cuts[i-1]) / 2, y}
			}
		}
	}
	return middle, wide
}

// paint writes the names that reach into a view.
func (n *Names) paint(c *paint.Canvas, v view) {
	dx, dy := n.left-v.left, n.top-v.top
	by := map[color.RGBA][]name{}
	var inks []color.RGBA
	for _, one := range n.placed {
		b := one.box.Pad(gap)
		if b.Max[0]+dx < 0 || b.Max[1]+dy < 0 || b.Min[0]+dx > float64(v.w) || b.Min[1]+dy > float64(v.h) {
			continue
		}
		if by[one.ink] == nil {
			inks = append(inks, one.ink)
		}
		by[one.ink] = append(by[one.ink], one)
	}
	slices.SortFunc(inks, func(a, b color.RGBA) int {
		return cmp.Or(cmp.Compare(a.R, b.R), cmp.Compare(a.G, b.G), cmp.Compare(a.B, b.B))
	})
	halo := rgba(Paper)
	halo.A = 215
	for _, ink := range inks {
		for _, one := range by[ink] {
			for _, l := range one.letters {
				l.At = orb.Point{l.At[0] + dx, l.At[1] + dy}
				c.Letter(l)
			}
		}
		c.Haloed(ink, halo, 3)
	}
}
