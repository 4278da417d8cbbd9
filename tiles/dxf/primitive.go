package dxf

import (
	"math"
	"strings"

	"github.com/paulmach/orb"
)

// vertex is a corner; the bulge is the tangent of a quarter of the angle of the
// arc from it to the next, 0 for a straight edge.
type vertex struct{ x, y, bulge float64 }

// primitive is one entity as it is written, in its own plane.
type primitive struct {
	kind   string
	layer  string
	place  string
	paths  [][]vertex // one line, or the rings of a filled area
	closed bool
	filled bool
	at     orb.Point // of a point or a text
	text   string
	insert *insert
	mirror bool // its plane is seen from below
}

// primitive reads an entity with what belongs to it; nil for what is not read.
func (r *reader) primitive(e *record) (p *primitive, err error) {
	p = &primitive{kind: e.kind, layer: r.decoded(e.text(8)), place: e.place()}
	if p.layer == "" {
		p.layer = "0"
	}
	inPlane := true // its coordinates are those of its own plane
	switch e.kind {
	case "LINE":
		p.paths = [][]vertex{{{e.number(10, 0), e.number(20, 0), 0}, {e.number(11, 0), e.number(21, 0), 0}}}
		inPlane = false
	case "LWPOLYLINE":
		p.paths, p.closed = [][]vertex{e.vertices()}, e.whole(70)&1 != 0
	case "POLYLINE":
		var read bool
		if inPlane, read, err = r.polyline(e, p); err != nil || !read {
			return nil, err
		}
	case "ARC", "CIRCLE":
		p.arc(e)
	case "ELLIPSE":
		p.ellipse(e)
		inPlane = false
	case "POINT":
		p.at, inPlane = orb.Point{e.number(10, 0), e.number(20, 0)}, false
	case "TEXT":
		p.at, p.text = orb.Point{e.number(10, 0), e.number(20, 0)}, r.decoded(plainText(e.text(1)))
	case "MTEXT":
		p.at, p.text, inPlane = orb.Point{e.number(10, 0), e.number(20, 0)}, r.decoded(r.longText(e)), false
	case "INSERT":
		if p.insert, err = r.insertion(e); err != nil {
			return nil, err
		}
	case "HATCH":
		if !p.hatch(e) {
			r.out.LeftOut["HATCH with curves"]++
			return nil, nil
		}
	case "VERTEX", "SEQEND", "ATTRIB", "ATTDEF", "VIEWPORT", "ENDBLK", "BLOCK":
		return nil, nil // parts of others, or nothing drawn
	default:
		r.out.LeftOut[e.kind]++
		return nil, nil
	}
	if e.whole(67) == 1 {
		r.out.LeftOut["entity of paper space"]++
		return nil, nil
	}
	if inPlane && e.tilted() {
		r.out.LeftOut[e.kind+" in a tilted plane"]++
		return nil, nil
	}
	p.mirror = inPlane && e.number(230, 1) < 0
	return p, nil
}

// tilted reports whether the plane of an entity is not that of the drawing.
func (r *record) tilted() bool {
	return math.Abs(r.number(210, 0)) > 1e-9 || math.Abs(r.number(220, 0)) > 1e-9
}

// vertices reads the corners of an LWPOLYLINE.
func (r *record) vertices() (all []vertex) {
	for _, p := range r.pairs {
		switch n := len(all); {
		case p.code == 10:
			all = append(all, vertex{x: number(p.value)})
		case p.code == 20 && n > 0:
			all[n-1].y = number(p.value)
		case p.code == 42 && n > 0:
			all[n-1].bulge = number(p.value)
		}
	}
	return all
}

// polyline reads the older POLYLINE with its VERTEX entities. Meshes are no lines.
func (r *reader) polyline(e *record, p *primitive) (inPlane, read bool, err error) {
	const closed, inSpace, mesh, frame = 1, 8, 16 | 64, 16
	flags := e.whole(70)
	var path []vertex
	for {
		v, err := r.next()
		switch {
		case err != nil:
			return false, false, err
		case v == nil:
			return false, false, refuse(e.place(), "the drawing ends inside of it: it is cut off", "copy or save it again")
		case v.kind == "SEQEND":
			if flags&mesh != 0 {
				r.out.LeftOut["mesh"]++
				return false, false, nil
			}
			p.paths, p.closed = [][]vertex{path}, flags&closed != 0
			return flags&inSpace == 0, true, nil
		case v.kind != "VERTEX":
			return false, false, refuse(v.place(), "it stands in a POLYLINE that has no end", saveAgain)
		case len(path) == mostPositions:
			return false, false, tooMany(e.place())
		case v.whole(70)&frame == 0:
			path = append(path, vertex{v.number(10, 0), v.number(20, 0), v.number(42, 0)})
		}
	}
}

func tooMany(place string) error {
	return refuse(place, "more than 1,000,000 positions come out of the drawing", "save the layers that are needed, or split the drawing")
}

// arc makes corners with bulges of an ARC or CIRCLE: halves, so that no bulge is
// without bound.
func (p *primitive) arc(e *record) {
	x, y, radius := e.number(10, 0), e.number(20, 0), e.number(40, 0)
	from, sweep := 0.0, 2*math.Pi
	if e.kind == "ARC" {
		from = e.number(50, 0) * math.Pi / 180
		sweep = math.Mod(e.number(51, 0)*math.Pi/180-from, 2*math.Pi)
		if sweep <= 0 {
			sweep += 2 * math.Pi
		}
	}
	p.closed = e.kind == "CIRCLE"
	p.paths = [][]vertex{arcPath(x, y, radius, from, sweep)}
	if p.closed {
		p.paths[0] = p.paths[0][:2] // the path closes itself
	}
}

// arcPath is an arc as two arcs with bulges; a negative sweep runs clockwise.
func arcPath(x, y, radius, from, sweep float64) []vertex {
	bulge := math.Tan(sweep / 8)
	var path []vertex
	for i := range 3 {
		s, c := math.Sincos(from + sweep*float64(i)/2)
		path = append(path, vertex{x + radius*c, y + radius*s, bulge})
	}
	path[2].bulge = 0
	return path
}

// ellipse makes corners of an ELLIPSE, so many that none lies far from it.
func (p *primitive) ellipse(e *record) {
	x, y, ax, ay, ratio := e.number(10, 0), e.number(20, 0), e.number(11, 0), e.number(21, 0), e.number(40, 1)
	from, to := e.number(41, 0), e.number(42, 2*math.Pi)
	if to <= from {
		to += 2 * math.Pi
	}
	if e.number(230, 1) < 0 {
		ratio = -ratio
	}
	p.closed = to-from > 2*math.Pi-1e-9
	const pieces = 720
	var path []vertex
	for i := range pieces + 1 {
		s, c := math.Sincos(from + (to-from)*float64(i)/pieces)
		path = append(path, vertex{x + c*ax - s*ratio*ay, y + c*ay + s*ratio*ax, 0})
	}
	if p.closed {
		path = path[:pieces]
	}
	p.paths = [][]vertex{path}
}

// decoded is a text of the drawing as UTF-8.
func (r *reader) decoded(text string) string {
	if r.Text != nil {
		text = r.Text(r.codePage, []byte(text))
	}
	return unicodeEscapes(strings.TrimSpace(text))
}
